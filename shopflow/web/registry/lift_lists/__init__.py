"""Saved lists of lifts."""
