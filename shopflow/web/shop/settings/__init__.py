"""The shop's settings."""
