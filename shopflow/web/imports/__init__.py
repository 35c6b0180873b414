"""Bringing earlier records in from CSV."""
