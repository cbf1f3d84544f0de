"""viewer: what is seen. A Result on a terminal, in a file, in a picture."""
