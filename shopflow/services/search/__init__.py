"""Search: past jobs by engine type and facts of the work, and every record by free text.

`lookup_text` has a row for each visit with its keys, numbers and notes, without accents or
capitals. A flush that writes any column it is made of (`models/lookup_text.py`, SOURCES) renews
the row in the same transaction. Rows written past the ORM must be followed by
`lookup_text.renew`.
"""
