"""Labels for heads."""
