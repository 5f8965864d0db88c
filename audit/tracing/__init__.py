"""Pure signal reading: samples in, one reading out. No store, no pandas, no file access."""
