"""Standing records: customers, heads and castings, engine types, attachments, lists of lifts.

A customer's link is stored as its SHA-256 only; in a queued message it is sealed with the app's
key until it is sent.
"""
