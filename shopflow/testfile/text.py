"""Session files as text: reading TOML and writing it."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from pathlib import Path

from shopflow.testfile import toml_text
from shopflow.testfile.checking import check
from shopflow.testfile.document import SessionDocument
from shopflow.testfile.keys import KEYS, TABLES
from shopflow.testfile.toml_text import row, value


def read(path: Path) -> SessionDocument:
    """The document in a file. Raises ValidationError, also where the file cannot be read."""
    return toml_text.read(path, loads)


def loads(content: str | bytes) -> SessionDocument:
    """The document a session file's text describes.

    Raises ValidationError with every fault; one that concerns the whole text has no key.
    """
    return toml_text.loads(content, check)


def dumps(document: SessionDocument) -> str:
    """A session file that reads back as the same document, every digit as typed."""
    lines = ["schema = 1"]
    for table in ("", *TABLES):
        entries = [
            (key.name, getattr(document, key.field))
            for key in KEYS
            if key.table == table and getattr(document, key.field) not in (None, "", ())
        ]
        if entries and table:
            lines += ["", f"[{table}]"]
        lines += [f"{name} = {value(entry)}" for name, entry in entries]
    lines += ["", "[readings]"]
    lines += [f"{name} = {value(getattr(document, name))}" for name in ("lift_unit", "flow_unit")]
    lines.append(f"lift = {row(document.lifts)}")
    lines += _array("flow", document.flows)
    if document.pressures:
        lines.append(f"pressure_unit = {value(document.pressure_unit)}")
        lines += _array("pressure", document.pressures)
    for run in document.excluded:
        lines += ["", "[[excluded]]"]
        reason = ((name, getattr(run, name)) for name in run.__slots__)
        lines += [f"{name} = {value(entry)}" for name, entry in reason if entry is not None]
    return "\n".join(lines) + "\n"


def _array(name: str, rows: Iterable[Iterable[Decimal]]) -> list[str]:
    return [f"{name} = [", *(f"    {row(runs)}," for runs in rows), "]"]
