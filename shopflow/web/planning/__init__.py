"""The floor, capacity and reports."""
