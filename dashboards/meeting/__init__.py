"""Pages of the meeting."""
