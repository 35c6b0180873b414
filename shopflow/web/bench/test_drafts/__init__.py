"""Flow tests being taken: discarded and restored."""
