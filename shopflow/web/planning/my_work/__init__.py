"""A user's own work, which a machinist sees first."""
