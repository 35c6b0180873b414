"""Kinds of measurement: the shop's own and the built-in ones."""
