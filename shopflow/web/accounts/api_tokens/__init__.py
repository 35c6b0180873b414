"""Tokens for programs that read the shop's records, or add to them."""
