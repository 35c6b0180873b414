"""The day of a bench, and plates exchanged with other shops."""
