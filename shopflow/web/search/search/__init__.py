"""One box over everything."""
