"""The invented unit: a generator that knows the truth, and a small committed sample."""
