"""Flow tests on record: corrected, withdrawn, restored."""
