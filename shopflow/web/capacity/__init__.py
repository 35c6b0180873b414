"""Capacity by week."""
