"""Springs of a head, valve by valve, and the usual ones of an engine type."""
