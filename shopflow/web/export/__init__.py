"""Taking the shop's records out."""
