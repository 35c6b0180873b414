"""The report of one engine type."""
