"""Workings of results: formula, the numbers put in, source."""
