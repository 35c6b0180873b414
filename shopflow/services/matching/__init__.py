"""Finding a name or number however it is spelled.

Names of customers and engine types are cached folded, under a stamp that changes with any of
them (`models/name_stamp.py`). The index of trigrams (migration 0017), which no model knows, only
narrows; the same LIKE decides on both databases. In SQLite it is FTS5 with tables and triggers
of its own, which `batch_alter_table` on `lookup_text` would lose; in PostgreSQL it is a GIN
index, where pg_trgm is available.
"""
