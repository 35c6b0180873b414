"""Measurements, their limits and plausibility; pressure, vacuum, leak and crack tests.

Limits are copied onto a measurement when it is recorded, so changing an engine type's limits
judges nothing on record again.
"""
