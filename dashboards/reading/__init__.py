"""Pages on blind reading and agreement."""
