"""Work at a vendor."""
