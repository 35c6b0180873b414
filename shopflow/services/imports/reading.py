"""Reading a CSV as it comes out of a spreadsheet: letters, separator, headings, limits."""

from __future__ import annotations

import csv
import difflib
import io
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from shopflow.spreadsheet import FORMULA_SIGNS, letters
from shopflow.texts import gettext

MOST_COLUMNS = 200
LONGEST_CELL = 2_000
HEADINGS_ROW = 1
NOWHERE = ("", False)
"""Name and kind of what stands under no heading."""


@dataclass(frozen=True, slots=True)
class Bounds:
    """Largest size of a file."""

    megabytes: int = 6
    rows: int = 20_000

    @property
    def bytes(self) -> int:
        """Largest number of bytes."""
        return self.megabytes * 1024 * 1024


OF_A_PAGE = Bounds()
"""Largest file that a user can be kept waiting for at a page."""

OF_THE_COMMAND = Bounds(1_000, 5_000_000)

ENCODINGS = {"utf-8": "utf-8-sig", "windows-1252": "cp1252"}
"""Python's codec by the name told; a byte order mark is no part of the first heading."""

SEPARATORS = {"comma": ",", "semicolon": ";", "tab": "\t"}
DECIMAL_MARKS = ("point", "comma")
DATE_ORDERS = {"ymd": "2019-05-31", "mdy": "5/31/2019", "dmy": "31.5.2019"}
"""The order of year, month and day, with an example."""

_NUMBER = re.compile(r"[+-]?[0-9.]+(?:[eE][+-]?[0-9]+)?")
_WITH_UNIT = re.compile(r"(?P<name>.*?)\s*[(\[]\s*(?P<unit>[^()\[\]]+?)\s*[)\]]")


@dataclass(frozen=True, slots=True)
class Writing:
    """Format of a file, as the user who imports it states it."""

    encoding: str = "utf-8"
    separator: str = "comma"
    decimal_mark: str = "point"
    date_order: str = "ymd"


@dataclass(frozen=True, slots=True)
class Column:
    """A column that a kind of file may have."""

    name: str
    hint: str
    needed: bool = False
    dimension: str = ""
    """Of a quantity: its unit is in the cell, the heading or a column "... unit"."""


@dataclass(frozen=True, slots=True, order=True)
class CellFault:
    """Something wrong in a file, by its row as a spreadsheet counts them and its column."""

    row: int
    column: str
    message: str


@dataclass(frozen=True, slots=True)
class Record:
    """One row: the filled cells by column name, and what stands under headings of its own."""

    row: int
    cells: Mapping[str, str]
    others: Mapping[str, str]

    def get(self, column: str) -> str:
        """Text in a column, trimmed; empty where the cell is."""
        return self.cells.get(column, "")


@dataclass
class Sheet:
    """A file read against the columns its kind has."""

    columns: Sequence[Column]
    writing: Writing
    headings: dict[str, str] = field(default_factory=dict)
    """Column name to its heading in the file."""

    heading_units: dict[str, str] = field(default_factory=dict)
    """Column name to the unit its heading gives."""

    other_headings: list[str] = field(default_factory=list)
    records: Iterator[Record] = field(default_factory=lambda: iter(()))
    """The rows, read from the file as they are asked for, once."""

    faults: list[CellFault] = field(default_factory=list)

    def fault(self, row: int, column: str, message: str) -> None:
        """Note a fault; a column is named as its heading in the file, where it has one."""
        self.faults.append(CellFault(row, self.headings.get(column, column), message))

    def refuse_other_headings(self) -> None:
        """Say of each heading that is no column's what it may have been meant to be."""
        for heading in self.other_headings:
            near = difflib.get_close_matches(_folded(heading), self.by_name, n=1)
            message = (
                gettext("this column does not exist; did you mean '{near}'?", near=near[0])
                if near
                else gettext("this column does not exist")
            )
            self.fault(HEADINGS_ROW, heading, message)

    @cached_property
    def by_name(self) -> dict[str, Column]:
        """Every column by its name."""
        return {column.name: column for column in self.columns}

    @cached_property
    def needed(self) -> list[str]:
        """Columns of the file that every row must fill; asked once the headings are read."""
        return [
            column.name for column in self.columns if column.needed and column.name in self.headings
        ]

    def quantity(self, record: Record, column: str) -> str:
        """A quantity with its unit as "44 mm", wherever the file gives the unit; or empty."""
        typed = record.get(column)
        if not typed:
            return ""
        unit = self.heading_units.get(column) or record.get(f"{column} unit")
        return self.with_unit(typed, unit)

    def number(self, typed: str) -> str:
        """A number with a decimal point, however the file marks it."""
        return typed.replace(",", ".") if self.writing.decimal_mark == "comma" else typed

    def with_unit(self, typed: str, unit: str) -> str:
        """A typed number with the unit, unless it carries one itself."""
        number = self.number(typed)
        return f"{number} {unit}" if unit and _NUMBER.fullmatch(number) else number


def read(
    content: bytes, columns: Sequence[Column], writing: Writing, bounds: Bounds = OF_A_PAGE
) -> Sheet:
    """A file's rows; what cannot be read at all is among the sheet's faults."""
    sheet = Sheet(columns, writing)
    try:
        text = _text(content, writing, bounds)
        # All is gone through before any row is taken, and not kept: a file may be large.
        filled = sum(1 for _ in _filled(text, writing, bounds))
    except ValueError as error:
        sheet.fault(0, "", str(error))
        return sheet
    rows = _filled(text, writing, bounds)
    first, headings = next(rows, (0, []))
    if first != HEADINGS_ROW:
        sheet.fault(HEADINGS_ROW, "", gettext("the first row must hold the headings"))
        return sheet
    by_index = _headings(sheet, headings)
    if filled == 1:
        sheet.fault(2, "", gettext("there is no row under the headings"))
    sheet.records = (_record(sheet, by_index, number, row) for number, row in rows)
    return sheet


def _text(content: bytes, writing: Writing, bounds: Bounds) -> str:
    """The file's letters. Raises ValueError where it is too large or not written as told."""
    if len(content) > bounds.bytes:
        raise ValueError(
            gettext(
                "the file has more than {megabytes} MB: import it in parts",
                megabytes=bounds.megabytes,
            )
        )
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise ValueError(gettext("the file is written in UTF-16; save it as 'CSV UTF-8'"))
    try:
        return content.decode(ENCODINGS[writing.encoding])
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        name = writing.encoding.upper().replace("WINDOWS", "Windows")
        raise ValueError(
            gettext(
                "line {line} is not written in {name}: choose the other character encoding",
                line=line,
                name=name,
            )
        ) from None


def _filled(text: str, writing: Writing, bounds: Bounds) -> Iterator[tuple[int, list[str]]]:
    """The rows that have something in them, each with its number.

    Raises ValueError where there are too many, or the text is no CSV.
    """
    separator = SEPARATORS[writing.separator]
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    try:
        for number, row in enumerate(reader, start=1):
            if number > bounds.rows + 1:
                raise ValueError(
                    gettext("more than {rows:,} rows: import them in parts", rows=bounds.rows)
                )
            if "".join(row).strip():
                yield number, row
    except csv.Error as error:
        raise ValueError(
            gettext("line {line_num} is not CSV: {error}", line_num=reader.line_num, error=error)
        ) from None


def _headings(sheet: Sheet, row: Sequence[str]) -> dict[int, tuple[str, bool]]:
    """Names of the columns by number, with True for the kind's own columns."""
    by_index: dict[int, tuple[str, bool]] = {}
    names: set[str] = set()
    if len(row) > MOST_COLUMNS:
        sheet.fault(
            HEADINGS_ROW, "", gettext("more than {most_columns} columns", most_columns=MOST_COLUMNS)
        )
        return by_index
    for index, heading in enumerate(map(str.strip, row)):
        name, unit = _column_of(sheet, heading)
        if not heading:
            continue
        if (name or heading) in names:
            sheet.fault(HEADINGS_ROW, heading, gettext("this column appears twice: remove one"))
            continue
        names.add(name or heading)
        by_index[index] = (name or heading, bool(name))
        if name:
            sheet.headings[name] = heading
            if unit:
                sheet.heading_units[name] = unit
        else:
            sheet.other_headings.append(heading)
    _missing(sheet, row)
    return by_index


def _missing(sheet: Sheet, row: Sequence[str]) -> None:
    lone = len([cell for cell in row if cell.strip()]) == 1
    others = [
        name
        for name, sign in SEPARATORS.items()
        if name != sheet.writing.separator and sign in row[0]
    ]
    if lone and others:
        words = gettext("one column only: is the separator a {separator}?", separator=others[0])
        sheet.fault(HEADINGS_ROW, "", words)
        return
    for column in sheet.columns:
        if column.needed and column.name not in sheet.headings:
            sheet.fault(HEADINGS_ROW, column.name, gettext("this column is missing"))


def _column_of(sheet: Sheet, heading: str) -> tuple[str, str]:
    """Name of the column a heading means and its unit; an empty name where it means none."""
    folded = _folded(heading)
    if folded in sheet.by_name:
        return folded, ""
    of_unit = folded.removesuffix(" unit")
    if of_unit != folded and of_unit in sheet.by_name and sheet.by_name[of_unit].dimension:
        return folded, ""
    match = _WITH_UNIT.fullmatch(heading)
    name = _folded(match["name"]) if match else ""
    if match and name in sheet.by_name and sheet.by_name[name].dimension:
        return name, match["unit"]
    return "", ""


def _folded(heading: str) -> str:
    return " ".join(heading.casefold().replace("_", " ").split())


def _record(
    sheet: Sheet, by_index: Mapping[int, tuple[str, bool]], number: int, row: Sequence[str]
) -> Record:
    cells: dict[str, str] = {}
    others: dict[str, str] = {}
    refused: set[str] = set()
    for index, cell in enumerate(row):
        text = cell.strip()
        if not text:
            continue
        if text[0] == "'":
            text = _plain_cell(text)
        name, own = by_index.get(index, NOWHERE)
        if not name:
            sheet.fault(
                number,
                letters(index + 1),
                gettext("'{text}' stands under no heading", text=text[:20]),
            )
        elif len(text) > LONGEST_CELL:
            refused.add(name)
            words = gettext(
                "{count:,} characters is too long: enter at most {longest:,}",
                count=len(text),
                longest=LONGEST_CELL,
            )
            sheet.fault(number, name, words)
        else:
            (cells if own else others)[name] = text
    for name in sheet.needed:
        if name not in cells and name not in refused:
            sheet.fault(number, name, gettext("required: enter a value"))
    return Record(number, cells, others)


def _plain_cell(text: str) -> str:
    """A cell's text, without the apostrophe that keeps a spreadsheet from calculating it."""
    return text[1:] if text[1:].startswith(FORMULA_SIGNS) else text
