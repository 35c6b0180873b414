"""Reports over a period."""
