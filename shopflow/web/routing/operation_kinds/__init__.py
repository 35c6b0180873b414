"""Kinds of operation: the shop's own and the built-in ones."""
