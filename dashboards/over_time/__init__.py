"""Pages on trends and data."""
