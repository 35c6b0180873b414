"""Quotes: given, and approved."""
