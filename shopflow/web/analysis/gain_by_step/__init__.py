"""Gain by step of a job."""
