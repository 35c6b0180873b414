"""Ranges behind forecasts of air and power."""
