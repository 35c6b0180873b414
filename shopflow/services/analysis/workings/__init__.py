"""How figures came about: formula, numbers put in, source."""
