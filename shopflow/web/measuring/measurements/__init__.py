"""Measurements: what was measured on a head, and against which limits."""
