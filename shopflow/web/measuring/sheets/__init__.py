"""A head's sheet of measurements: filled cell by cell, or all at once without a script."""
