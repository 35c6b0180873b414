"""Notes on the methods of calculation, in plain words."""
