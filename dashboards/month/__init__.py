"""Pages on a month and its cases."""
