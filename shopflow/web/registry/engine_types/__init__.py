"""Engine types."""
