"""Sums for the engine a head goes on."""
