"""Sections along a port: writing them down, and what the flow does in them."""
