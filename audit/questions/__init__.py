"""What the product answers, as documents."""
