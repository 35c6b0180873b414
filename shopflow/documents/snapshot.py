"""Papers' data as plain JSON and back, so that what a paper was made from can be kept.

What comes back equals what went in; the kind of each value is read from the dataclasses. A moment
keeps its offset from UTC, not the name of its zone.
"""

from __future__ import annotations

import base64
import dataclasses
import functools
import hashlib
import json
import types
import typing
from collections.abc import Callable
from datetime import date, datetime
from decimal import Decimal
from typing import Any, TypeVar

from shopflow.texts import gettext

T = TypeVar("T")

_PLAIN = (str, int, float)
LATER = {"later": True}
"""Metadata of a field added since papers were first kept: left out while it holds its default, so
that an older paper's snapshot, and the code calculated from it, stay what they were."""


def to_plain(value: object) -> Any:
    """A dataclass as a dictionary of what JSON knows: text, numbers, truth, lists and null.

    Dates are ISO 8601 text, decimals text, bytes base 64. Raises TypeError for anything else.
    """
    if value is None or isinstance(value, _PLAIN):
        return value
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        values = {field: getattr(value, field.name) for field in dataclasses.fields(value)}
        return {
            field.name: to_plain(item)
            for field, item in values.items()
            if not (field.metadata.get("later") and item == field.default)
        }
    if isinstance(value, tuple | list):
        return [to_plain(item) for item in value]
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return str(value)
    if isinstance(value, bytes):
        return base64.b64encode(value).decode("ascii")
    raise TypeError(f"{type(value).__name__} has no place in a snapshot")


def from_plain(kind: type[T], plain: Any) -> T:
    """Restore the value that `to_plain` made plain, where `kind` was its class.

    A field the snapshot is too old to hold takes its default. Raises ValueError where it holds
    one that is not known, since dropping that would alter what was kept.
    """
    restored: T = _restored(kind, plain)
    return restored


def fingerprint(value: object) -> str:
    """SHA-256 of a value's snapshot, in hexadecimal."""
    text = json.dumps(to_plain(value), sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


_READERS: dict[Any, Callable[[Any], Any]] = {
    datetime: datetime.fromisoformat,
    date: date.fromisoformat,
    Decimal: Decimal,
    bytes: base64.b64decode,
}


def _restored(kind: Any, plain: Any) -> Any:
    if isinstance(kind, types.UnionType):
        if plain is None:
            return None
        (kind,) = (part for part in typing.get_args(kind) if part is not types.NoneType)
    if dataclasses.is_dataclass(kind) and isinstance(kind, type):
        return _record(kind, plain)
    if typing.get_origin(kind) is tuple:
        return _sequence(typing.get_args(kind), plain)
    reader = _READERS.get(kind)
    return reader(plain) if reader else plain


def _sequence(parts: tuple[Any, ...], plain: list[Any]) -> tuple[Any, ...]:
    if len(parts) == 2 and parts[1] is Ellipsis:
        parts = (parts[0],) * len(plain)
    return tuple(_restored(part, item) for part, item in zip(parts, plain, strict=True))


def _record(kind: Any, plain: dict[str, Any]) -> Any:
    kinds = _kinds_of_fields(kind)
    unknown = sorted(plain.keys() - kinds.keys())
    if unknown:
        raise ValueError(
            gettext("{kind} has no {unknown}", kind=kind.__name__, unknown=", ".join(unknown))
        )
    return kind(**{name: _restored(kinds[name], item) for name, item in plain.items()})


@functools.cache
def _kinds_of_fields(kind: type[Any]) -> dict[str, Any]:
    """Kind of each field of a dataclass, read once: its annotations are compiled to tell."""
    hints = typing.get_type_hints(kind)
    return {field.name: hints[field.name] for field in dataclasses.fields(kind)}
