"""Standing records: customers, heads, engine types, attachments, limits."""
