"""The printable meeting pack."""
