"""Labels of bins."""
