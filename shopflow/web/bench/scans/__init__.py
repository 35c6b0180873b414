"""Scans of ports: added to a head, cut into sections, saved after a preview."""
