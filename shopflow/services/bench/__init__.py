"""Flow benches and flow tests: taking, storing and reading them.

A flow test in the database is its file: `sessions.store` and `document` are inverse, and results
are always calculated from the readings. Every quantity is kept as typed beside its SI value.
Only the summaries that look-ups need are stored, and every verb that touches a reading renews
them for the whole head. A test being taken is a draft, which the page saves at every value; a
page may write only what it has seen, and the test that comes of it carries the draft's key, so
that saving it twice stores it once. A bench check says whether a range still reads as it did;
only a calibration changes a result. Past results of an engine type include its relatives: types
that share a name, or a builder and the beginning of a family's name.
"""
