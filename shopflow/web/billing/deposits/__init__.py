"""Deposits invoiced ahead of the work."""
