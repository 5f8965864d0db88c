"""One definition of a table for page, pack, slides, CSV and terminal."""
