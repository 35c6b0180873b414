"""Measurements, their limits and plausibility; pressure and crack tests."""
