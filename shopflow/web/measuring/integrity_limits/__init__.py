"""Limits of pressure, vacuum and leak tests by engine type."""
