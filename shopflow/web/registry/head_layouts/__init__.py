"""The layout of an engine type's heads, and what is usual of them."""
