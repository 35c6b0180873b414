"""Everything the shop has on record, as CSV and as JSON, but for what must stay secret."""
