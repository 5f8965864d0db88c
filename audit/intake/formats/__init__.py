"""One module per file format: a file becomes rows."""
