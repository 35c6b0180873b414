"""Hand-off notes: what the assembler is told."""
