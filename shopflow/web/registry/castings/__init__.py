"""Castings: their status, the shop's spares, spares offered for jobs, trends over visits."""
