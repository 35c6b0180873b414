"""Cache of results of past tests, renewed once a test of their engine types changes."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Any, TypeVar
from weakref import WeakKeyDictionary

from sqlalchemy import Engine, String, bindparam, literal_column, select
from sqlalchemy.orm import Session

from shopflow.models.session_stamp import OWN_MARK, session_stamp

MOST_KEPT = 200
"""Cached values by database, so that none is calculated again at every reading taken."""

_STAMPS = {
    dialect: select(
        session_stamp.c.engine_type_id,
        session_stamp.c.stamp,
        session_stamp.c.stamp == literal_column(own, String),
    )
    .where(session_stamp.c.engine_type_id.in_(bindparam("keys", expanding=True)))
    .order_by(session_stamp.c.engine_type_id)
    for dialect, own in OWN_MARK.items()
}
"""Asked at every reading taken, and so put together once."""

Stamp = tuple[tuple[int, str], ...]
Value = TypeVar("Value")

_kept: WeakKeyDictionary[Engine, dict[Hashable, tuple[Stamp, Any]]] = WeakKeyDictionary()


def stamp(db: Session, engine_types: tuple[int, ...]) -> Stamp | None:
    """Stamp that differs once a test of the engine types of these keys is added or changed.

    None where this very transaction changed one, and may change it again.
    """
    dialect = db.get_bind().dialect.name
    rows = db.execute(_STAMPS[dialect], {"keys": engine_types}).all()
    if any(own for _, _, own in rows):
        return None
    return tuple((key, mark) for key, mark, _ in rows)


def unless_changed(
    db: Session, engine_types: tuple[int, ...], key: Hashable, calculate: Callable[[], Value]
) -> Value:
    """Cached value of the tests of these engine types, calculated again once one changes.

    `key` tells it from all other values of them; `calculate` must depend on nothing but their tests
    and names.
    """
    # Asked for first: what is read after it is never older than it says.
    now = stamp(db, engine_types)
    if now is None:
        return calculate()
    entries = _kept.setdefault(db.get_bind().engine, {})
    last = entries.get((engine_types, key))
    if last is None or last[0] != now:
        last = now, calculate()
        if len(entries) >= MOST_KEPT:
            entries.clear()
        entries[engine_types, key] = last
    value: Value = last[1]
    return value
