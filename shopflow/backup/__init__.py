"""Keeping a shop's records safe: backing them up, restoring, moving and checking them."""
