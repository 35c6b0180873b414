"""Session files as text: reading TOML and writing it."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Any

from shopflow.errors import FieldError, ValidationError
from shopflow.testfile.checking import check
from shopflow.testfile.document import SessionDocument
from shopflow.testfile.keys import KEYS, TABLES

LARGEST_FILE = 500_000
"""Bytes; a session of forty lifts takes two thousand."""

_PART = r"""(?:[A-Za-z0-9_-]++|"(?:[^"\\\n]|\\.){0,200}+"|'[^'\n]{0,200}+')"""
_LONG_KEY = re.compile(rf"(?<![A-Za-z0-9_-]){_PART}(?:[ \t]*+\.[ \t]*+{_PART}){{32}}")
"""A key of very many dotted parts: tomllib's time and memory grow with their square."""


def read(path: Path) -> SessionDocument:
    """The document in a file. Raises ValidationError, also where the file cannot be read."""
    try:
        with path.open("rb") as file:
            content = file.read(LARGEST_FILE + 1)
    except OSError as error:
        raise ValidationError(
            [FieldError(str(path), f"cannot be read: {error.strerror}")]
        ) from None
    try:
        return loads(content)
    except ValidationError as error:
        raise ValidationError(
            FieldError(f.key or str(path), f.message) for f in error.faults
        ) from None


def loads(content: str | bytes) -> SessionDocument:
    """The document a session file's text describes.

    Raises ValidationError with every fault; one that concerns the whole text has no key.
    """
    try:
        return check(tomllib.loads(_text(content), parse_float=_typed))
    except RecursionError:
        raise _unreadable("this is nested too deeply") from None
    except tomllib.TOMLDecodeError as error:
        raise _unreadable(f"this is not TOML: {error}") from None
    except ValueError:
        raise _unreadable("a number in it has too many digits") from None


def _text(content: str | bytes) -> str:
    """The text, where it is fit to be parsed. Raises ValidationError."""
    if len(content) > LARGEST_FILE:
        raise _unreadable("this is too large to be a session file")
    try:
        # Some editors put a byte order mark in front.
        text = content.decode("utf-8-sig") if isinstance(content, bytes) else content
    except UnicodeDecodeError:
        raise _unreadable("this is not text in UTF-8") from None
    if _LONG_KEY.search(text):
        raise _unreadable("a key in it has too many parts")
    return text


def _typed(text: str) -> Decimal:
    """A number as typed; one beyond all bounds counts as infinite, and is refused at its key."""
    try:
        return Decimal(text)
    except InvalidOperation:
        return Decimal("Infinity")


def _unreadable(message: str) -> ValidationError:
    return ValidationError([FieldError("", message)])


def dumps(document: SessionDocument) -> str:
    """A session file that reads back as the same document, every digit as typed."""
    lines = ["schema = 1"]
    for table in ("", *TABLES):
        given = [
            (key.name, getattr(document, key.field))
            for key in KEYS
            if key.table == table and getattr(document, key.field) not in (None, "", ())
        ]
        if given and table:
            lines += ["", f"[{table}]"]
        lines += [f"{name} = {_value(value)}" for name, value in given]
    lines += ["", "[readings]"]
    lines += [f"{name} = {_value(getattr(document, name))}" for name in ("lift_unit", "flow_unit")]
    lines.append(f"lift = {_row(document.lifts)}")
    lines += _array("flow", document.flows)
    if document.pressures:
        lines.append(f"pressure_unit = {_value(document.pressure_unit)}")
        lines += _array("pressure", document.pressures)
    for run in document.excluded:
        lines += ["", "[[excluded]]"]
        said = ((name, getattr(run, name)) for name in run.__slots__)
        lines += [f"{name} = {_value(value)}" for name, value in said if value is not None]
    return "\n".join(lines) + "\n"


def _array(name: str, rows: Iterable[Iterable[Decimal]]) -> list[str]:
    return [f"{name} = [", *(f"    {_row(runs)}," for runs in rows), "]"]


def _row(numbers: Iterable[Decimal]) -> str:
    return f"[{', '.join(map(_number, numbers))}]"


def _number(typed: Decimal) -> str:
    """Its digits as typed; without an exponent, where Python alone would write one."""
    exponent = typed.as_tuple().exponent
    plain = isinstance(exponent, int) and -30 < exponent <= 0
    return format(typed, "f") if plain else str(typed)


def _value(value: Any) -> str:
    if isinstance(value, Decimal):
        return _number(value)
    if isinstance(value, int):
        return str(value)
    if isinstance(value, tuple):
        return _row(value)
    # Only a shop that writes files needs the writer: reading stays quick to start.
    import tomli_w

    plain = value if hasattr(value, "isoformat") else str(value)
    return tomli_w.dumps({"x": plain}).removeprefix("x = ").rstrip("\n")
