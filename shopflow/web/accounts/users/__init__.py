"""The accounts of the people who work in the shop."""
