"""Velocity maps of a head: listed, added, shown and discarded."""
