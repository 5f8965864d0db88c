"""Pure functions from rows to charts, shared by the pages and the pack."""
