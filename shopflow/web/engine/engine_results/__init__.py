"""Results that customers report of their engines."""
