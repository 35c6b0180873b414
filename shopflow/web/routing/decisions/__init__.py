"""Decisions: how to go on from a figure outside its limits."""
