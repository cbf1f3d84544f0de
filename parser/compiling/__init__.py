"""Compiled loops: made once, kept, and called."""
