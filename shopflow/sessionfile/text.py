"""Session files as text: reading TOML and writing it."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from decimal import Decimal
from pathlib import Path
from typing import Any

from shopflow.errors import Fault, FaultsError
from shopflow.sessionfile.checking import check
from shopflow.sessionfile.document import SessionDocument
from shopflow.sessionfile.keys import KEYS, TABLES

LARGEST_FILE = 2_000_000
"""Bytes; a session of forty lifts takes two thousand."""


def read(path: Path) -> SessionDocument:
    """The document in a file. Raises FaultsError, also where the file cannot be read."""
    try:
        content = path.read_bytes()
    except OSError as error:
        raise FaultsError([Fault(str(path), f"cannot be read: {error.strerror}")]) from None
    return loads(content)


def loads(content: str | bytes) -> SessionDocument:
    """The document a session file's text describes. Raises FaultsError with every fault."""
    if len(content) > LARGEST_FILE:
        raise FaultsError([Fault("", "this is too large to be a session file")])
    try:
        text = content.decode("utf-8") if isinstance(content, bytes) else content
        parsed = tomllib.loads(text, parse_float=Decimal)
    except UnicodeDecodeError:
        raise FaultsError([Fault("", "this is not text in UTF-8")]) from None
    except RecursionError:
        raise FaultsError([Fault("", "this is nested too deeply")]) from None
    except ValueError as error:
        # TOMLDecodeError, or a number beyond what Python converts.
        raise FaultsError([Fault("", f"this is not TOML: {error}")]) from None
    except ArithmeticError:
        raise FaultsError([Fault("", "a number in it cannot be read")]) from None
    return check(parsed)


def dumps(document: SessionDocument) -> str:
    """A session file that reads back as the same document, every digit as typed."""
    lines = ["schema = 1"]
    for table in ("", *TABLES):
        given = [
            (key.name, getattr(document, key.field))
            for key in KEYS
            if key.table == table and getattr(document, key.field) not in (None, "")
        ]
        if given and table:
            lines += ["", f"[{table}]"]
        lines += [f"{name} = {_value(value)}" for name, value in given]
    lines += ["", "[readings]"]
    lines += [f"{name} = {_value(getattr(document, name))}" for name in ("lift_unit", "flow_unit")]
    lines.append(f"lift = {_row(document.lifts)}")
    lines += ["flow = [", *(f"    {_row(runs)}," for runs in document.flows), "]"]
    for run in document.excluded:
        lines += ["", "[[excluded]]"]
        lines += [f"{name} = {_value(getattr(run, name))}" for name in run.__slots__]
    return "\n".join(lines) + "\n"


def _row(numbers: Iterable[Decimal]) -> str:
    return f"[{', '.join(str(number) for number in numbers)}]"


def _value(value: Any) -> str:
    if isinstance(value, int | Decimal):
        return str(value)
    # Only a shop that writes files needs the writer: reading stays quick to start.
    import tomli_w

    plain = value if hasattr(value, "isoformat") else str(value)
    return tomli_w.dumps({"x": plain}).removeprefix("x = ").rstrip("\n")
