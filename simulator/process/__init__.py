"""One natural process a file: scalar functions on floats, each with its published equation."""
