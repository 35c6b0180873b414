"""A cam as people type it, field by field, made into the cam the file would hold."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any

from shopflow import camfile
from shopflow.camfile import CamDocument, LobeDocument
from shopflow.camfile.keys import ARRAYS, ENGINE, SIDES, of_lobe
from shopflow.errors import FieldError, ValidationError
from shopflow.testfile.keys import Key
from shopflow.texts import gettext

BARE_UNITS = {"angle": "deg", "speed of rotation": "rpm"}
"""Units that go without saying."""

MISSING = "required: enter a value"

_BARE_NUMBER = re.compile(r"[+-]?[0-9.]+")
_BETWEEN = re.compile(r"[,\s]+")
_COLUMNS = re.compile(r"\s*[;\t]\s*")


def read(values: Mapping[str, Any]) -> CamDocument:
    """The cam of a form's fields: `name`, `notes`, the engine's by their keys, and under `intake`
    and `exhaust` those of a lobe by theirs, its table as `lobe`.

    Raises ValidationError at these fields, as "bore" or "intake.lobe".
    """
    sides = {side: _typed(values.get(side) or {}) for side in SIDES}
    tables = {side: read_table(sides[side].get("lobe", "")) for side in SIDES}
    typed = _typed(values)
    faults = [
        FieldError(f"{side}.lobe", table.fault) for side, table in tables.items() if table.fault
    ]
    if not typed.get("name"):
        faults.append(FieldError("name", MISSING))
    content = _content(typed) | {
        side: lobe
        for side in SIDES
        if (lobe := _lobe(side, sides[side], tables[side])) or side == "intake"
    }
    try:
        cam = camfile.check(content)
    except ValidationError as error:
        broken = {fault.key for fault in faults}
        faults += [fault for fault in at_fields(error) if fault.key not in broken]
        raise ValidationError(faults) from None
    if faults:
        raise ValidationError(faults)
    return cam


def lobe_text(lobe: LobeDocument) -> str:
    """A measured lobe as `read_table` reads it; empty for a stand-in."""
    pairs = zip(lobe.angles, lobe.lifts, strict=True)
    return "\n".join(f"{angle:f} {lift:f}" for angle, lift in pairs)


def at_fields(error: ValidationError) -> Iterator[FieldError]:
    """Faults of a cam's content at the fields of the form."""
    for fault in error.faults:
        table, _, key = fault.key.rpartition(".")
        message = MISSING if fault.message == "missing" else fault.message
        if table in SIDES:
            field = "lobe" if key.split("[")[0] in ARRAYS else key
            yield FieldError(f"{table}.{field}", message)
        else:
            yield FieldError("name" if key == "title" else key, message)


@dataclass(frozen=True)
class LobeTable:
    """Lobe lift over crank angle as typed; numbers, or what was typed in their place."""

    angles: tuple[Any, ...] = ()
    lifts: tuple[Any, ...] = ()
    fault: str = ""


def read_table(text: str) -> LobeTable:
    """An angle and a lift a line, pasted from a spreadsheet or typed; headings are passed over.

    >>> read_table("deg; in\\n-10; 0,0\\n0\\t0.25").lifts
    (Decimal('0.0'), Decimal('0.25'))
    """
    rows: list[list[Decimal | str]] = []
    for line, typed in enumerate(text.splitlines(), start=1):
        cells = _cells(typed.strip())
        if not cells or (not rows and not any(isinstance(cell, Decimal) for cell in cells)):
            continue
        if len(cells) != 2:
            return LobeTable(fault=gettext("line {line}: enter an angle and a lift", line=line))
        rows.append(cells)
    if not rows:
        return (
            LobeTable(fault=gettext("enter an angle and a lift a line"))
            if text.strip()
            else LobeTable()
        )
    angles, lifts = zip(*rows, strict=True)
    return LobeTable(angles, lifts)


def _cells(line: str) -> list[Decimal | str]:
    if not line:
        return []
    if _COLUMNS.search(line):
        # Where something else stands between the columns, a comma is a decimal's.
        return [_number(cell.replace(",", ".")) for cell in _COLUMNS.split(line.strip(";"))]
    return [_number(cell) for cell in _BETWEEN.split(line.strip(","))]


def _number(text: str) -> Decimal | str:
    """A number; else the text, for the check to refuse where it lies."""
    try:
        return Decimal(text)
    except InvalidOperation:
        return text


def _typed(values: Mapping[str, Any]) -> dict[str, str]:
    """Fields as they were typed; of a quantity its text."""
    return {
        name: str(value or "").strip()
        for name, value in values.items()
        if not isinstance(value, Mapping)
    }


def _content(typed: Mapping[str, str]) -> dict[str, Any]:
    """Content of the file beside its lobes."""
    title, notes = typed.get("name", ""), typed.get("notes", "")
    return {"schema": 1, "title": title, "notes": notes, "engine": dict(_entered(ENGINE, typed))}


def _lobe(side: str, typed: Mapping[str, str], table: LobeTable) -> dict[str, Any]:
    """A side's table of the content; empty where nothing was entered for it."""
    content = dict(_entered(of_lobe(side), typed))
    if table.angles:
        unit = typed.get("lift_unit", "")
        content |= {"angle": list(table.angles), "lobe_lift": list(table.lifts), "lift_unit": unit}
    return content


def _entered(keys: tuple[Key, ...], typed: Mapping[str, str]) -> Iterator[tuple[str, Any]]:
    for key in keys:
        text = typed.get(key.name, "")
        if not text:
            continue
        if key.dimension == "number":
            yield key.name, _number(text)
        elif key.dimension in BARE_UNITS and _BARE_NUMBER.fullmatch(text):
            yield key.name, f"{text} {BARE_UNITS[key.dimension]}"
        else:
            yield key.name, text
