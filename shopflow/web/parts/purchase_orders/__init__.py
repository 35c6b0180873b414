"""Purchase orders."""
