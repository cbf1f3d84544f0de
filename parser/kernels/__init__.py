"""Compiled kernels: they see arrays and scalars only.

The law: a kernel and every compiled helper it calls share a file.
"""
