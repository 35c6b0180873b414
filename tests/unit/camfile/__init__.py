"""The cam file: checking, reading and writing it."""
