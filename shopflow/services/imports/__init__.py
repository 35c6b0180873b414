"""Bringing a shop's earlier records in from CSV: read, planned row by row, then all or nothing."""
