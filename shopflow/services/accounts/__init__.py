"""Users: accounts, passwords, login sessions, API tokens and throttles.

Passwords are hashed with scrypt (2^15) and must not be easy to guess. Failed attempts are
counted in the database, so that every process sees them, by login and address, so that nobody
can lock out somebody else. A login session is a row; its cookie holds 256 random bits, and
ending the row ends every copy. It ends after 14 hours without a request and after 7 days in all.
A token is stored as its SHA-256 only; its use is noted once a minute, in a database session of
its own.
"""
