"""Heads: the castings, and their lives."""
