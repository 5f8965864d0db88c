"""What was accepted goes into the store, a transaction a file."""
