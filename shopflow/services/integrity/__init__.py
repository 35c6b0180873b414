"""Integrity check of a shop's records: documents, totals, numbers, results, accounts and files.

Each check names what is wrong by its record. A damaged value ends the look at that record alone.
"""
