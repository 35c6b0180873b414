"""Reading the records by program: JSON, read-only, opened by a token."""
