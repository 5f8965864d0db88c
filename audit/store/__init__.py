"""The store: the one room that opens databases."""
