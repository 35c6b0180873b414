"""Comparing flow tests: gains, gain by step, and the working behind results."""
