"""Flow tests on file: corrected, withdrawn, restored."""
