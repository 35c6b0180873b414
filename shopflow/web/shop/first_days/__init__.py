"""The checklist of a shop's first days."""
