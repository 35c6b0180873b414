"""Comparing bench sessions."""
