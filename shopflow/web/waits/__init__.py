"""What heads wait for."""
