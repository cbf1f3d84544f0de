"""Compiled kernels: arrays and scalars only; a kernel and every compiled helper it calls share a file."""
