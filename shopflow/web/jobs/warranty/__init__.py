"""Warranty returns, once booked in."""
