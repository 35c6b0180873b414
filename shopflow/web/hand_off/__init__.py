"""Hand-off notes and the calculations an assembler needs."""
