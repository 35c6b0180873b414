"""Certificates: drafting, issuing, verifying and checking them."""
