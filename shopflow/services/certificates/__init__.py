"""Certificates: drafting, issuing, verifying and checking them.

An issued certificate is refused change and deletion by the model and by triggers in the
database, except for one withdrawal; its PDF is stored and served byte for byte, and a correction
is a new revision. A migration that rebuilds its tables on SQLite must recreate the triggers. A
draft keeps the fingerprint of everything it stated when it was checked; if any of that changes,
it must be checked again.
"""
