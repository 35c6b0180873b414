"""Bench sessions on screen: entry, curve, comparison."""
