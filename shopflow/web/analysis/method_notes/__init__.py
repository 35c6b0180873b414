"""How the numbers are made, in plain words."""
