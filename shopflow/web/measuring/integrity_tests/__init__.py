"""Results of pressure, vacuum, leak and crack tests: recording and correcting them."""
