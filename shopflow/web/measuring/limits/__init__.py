"""Limits of figures by engine type."""
