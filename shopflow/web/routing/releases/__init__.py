"""Releases: the owner lets steps cut metal ahead of the customer's approval."""
