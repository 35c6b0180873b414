"""A head's work plan as a whole: copied from another head, saved as a template."""
