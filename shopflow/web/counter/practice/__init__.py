"""The practice job."""
