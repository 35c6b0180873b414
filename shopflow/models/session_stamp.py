"""A stamp that changes with the flow tests of an engine type, so that a cache of them knows it is
old.

Triggers change it in the transaction that changes a test. It is no record of the shop's, and so no
model: a copy elsewhere gets stamps of its own.
"""

from __future__ import annotations

from sqlalchemy import Integer, String, column, table

SESSION_STAMP = "session_stamp"
"""Name of the table, and how the triggers' names begin."""

session_stamp = table(SESSION_STAMP, column("engine_type_id", Integer), column("stamp", String))
"""An engine type's mark, none before its first session; never the same again."""

OWN_MARK = {
    "sqlite": "NULL",
    "postgresql": "txid_current_if_assigned() || ' ' || extract(epoch FROM now())",
}
"""The mark of all that this very transaction changes, where it is one and the same for all."""
