"""Rows become accepted ones and rejects; the door against identifiers."""
