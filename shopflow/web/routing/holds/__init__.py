"""Holds on heads."""
