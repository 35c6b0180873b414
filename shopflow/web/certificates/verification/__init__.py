"""Verifying a paper, open to anyone who holds it."""
