"""Suppliers of parts and vendors of outside work."""
