"""Cams of engine types and of jobs."""
