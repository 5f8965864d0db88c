"""The door: what may pass, and what is said of that which may not."""
