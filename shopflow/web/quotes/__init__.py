"""Quotes: written and given."""
