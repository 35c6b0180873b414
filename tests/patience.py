"""Time limits of waits in tests: only a test that fails waits this long."""

PATIENCE = 180.0
"""Seconds. What is waited for takes less than two where the machine does nothing else."""
