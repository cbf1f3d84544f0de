"""Compiled kernels: they see arrays and scalars only. A kernel and every compiled helper it calls share a file."""
