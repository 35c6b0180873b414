"""Published figures, found again by the whole job; the sources are in tests/data/README.md."""
