"""Triggers that guard what is issued, compared by their text with those of a new shop.

SQLite's are compared with a database that all migrations made just now. PostgreSQL's are compared
with digests of theirs, `GUARDS`, since nobody may make another database on a shop's server;
tests/migrations tells when they are to be written anew.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path

from sqlalchemy import Connection, text

from shopflow.database import open_engine, upgrade
from shopflow.texts import gettext

GUARDS = Path(__file__).with_name("postgresql_guards.json")

_SQLITE = "SELECT tbl_name, name, sql FROM sqlite_master WHERE type = 'trigger'"
_POSTGRESQL = """
SELECT c.relname, t.tgname,
       t.tgenabled::text || ' ' || pg_get_triggerdef(t.oid, true) || ' ' || p.prosrc
FROM pg_trigger t
JOIN pg_class c ON c.oid = t.tgrelid
JOIN pg_namespace n ON n.oid = c.relnamespace AND n.nspname = current_schema()
JOIN pg_proc p ON p.oid = t.tgfoid
WHERE NOT t.tgisinternal
"""

Guards = Mapping[str, str]
"""SHA-256 of the text of each trigger, by its table and name."""


def guard_faults(connection: Connection) -> Iterator[str | None]:
    """For each trigger that should be there, or is, what is wrong with it, or None."""
    expected, there = expected_guards(connection.dialect.name), guards(connection)
    for name in sorted(expected.keys() | there.keys()):
        if name not in there:
            yield gettext("{name}: the trigger is gone", name=name)
        elif name not in expected:
            yield gettext("{name}: the trigger is none of shopflow's", name=name)
        elif there[name] != expected[name]:
            yield gettext("{name}: the trigger does not do what shopflow's does", name=name)
        else:
            yield None


def guards(connection: Connection) -> Guards:
    """The triggers of a database."""
    query = _SQLITE if connection.dialect.name == "sqlite" else _POSTGRESQL
    return {
        f"{table}.{name}": hashlib.sha256(" ".join(words.split()).encode()).hexdigest()
        for table, name, words in connection.execute(text(query))
    }


@cache
def expected_guards(dialect: str) -> Guards:
    """The triggers of a new shop; running every migration takes a second: once is enough."""
    if dialect != "sqlite":
        stored: Guards = json.loads(GUARDS.read_text(encoding="ascii"))
        return stored
    scratch = open_engine("sqlite://")
    try:
        upgrade(scratch)
        with scratch.connect() as new:
            return guards(new)
    finally:
        scratch.dispose()
