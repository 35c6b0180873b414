"""Seat profiles of heads and engine types: entered with their drawing, copied, removed."""
