"""A head's ports through the cams of its job and engine type."""
