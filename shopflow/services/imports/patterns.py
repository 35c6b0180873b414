"""Tests that are alike in all but their readings: what they share is checked and known once."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from functools import cached_property
from typing import Any

from shopflow import units
from shopflow.calc.area_curve import AreaCurve
from shopflow.calc.batch_reduction import reduce_all
from shopflow.calc.flowtest import FlowTest
from shopflow.calc.reduction import reduce
from shopflow.calc.slips import impossible_flow
from shopflow.errors import FieldError
from shopflow.services.bench.sessions import LONGEST_LINE
from shopflow.services.imports import flows
from shopflow.services.imports.flows import Air, LiftColumn
from shopflow.services.imports.reading import Record, Sheet
from shopflow.testfile import SessionDocument

OWN = ("stage", "cylinder", "operator")
"""Columns in which tests may differ that are alike otherwise, beside date, notes and flows."""

CONTENT = (
    *("lift_unit", "lifts", "flow_unit", "flows", "head_diameter", "valve_count", "port_area"),
    *("test_pressure", "reference_pressure", "barometer", "temperature", "humidity"),
)
"""Fields that a test imported again must have the same, to be the same."""

_SEPARATOR = "\x1f"


@dataclass(frozen=True, slots=True)
class Cell:
    """The flows in a cell: as typed, in m3/s, in words to be compared; each run with its place."""

    typed: tuple[Decimal, ...]
    si: tuple[float, ...]
    words: str
    runs: list[tuple[int, Decimal, float]]


class Cells(dict[str, Cell | None]):
    """Cells by their text, each read once; None for what a closer look must refuse.

    `usual` is the unit of flows that say none; all must be in the document's, above its leakage.
    """

    def __init__(self, sheet: Sheet, usual: str, document: SessionDocument) -> None:
        self.sheet = sheet
        self.usual = usual
        self.unit = document.flow_unit
        self.meter = document.meter
        self.leakage = document.leakage_flow()

    def __missing__(self, text: str) -> Cell | None:
        self[text] = cell = self._read(text)
        return cell

    def _read(self, text: str) -> Cell | None:
        try:
            read = [flows.flow_in(self.sheet, piece, self.usual) for piece in flows.pieces(text)]
        except units.UnitError:
            return None
        typed = tuple(number for number, _ in read)
        si = tuple(self.meter.indicated(float(number), self.unit) for number in typed)
        fits = all(unit == self.unit for _, unit in read) and min(si) > self.leakage
        runs = list(zip(range(1, len(si) + 1), typed, si, strict=True))
        return Cell(typed, si, str(typed), runs) if fits else None


@dataclass(eq=False)
class Pattern:
    """Values that similar tests share, taken from the first of them, which was checked in full."""

    document: SessionDocument
    tested: list[LiftColumn]
    cells: list[Cells]
    """For each lift, what reads its cells."""

    of_air: str
    """Note on its air."""

    @cached_property
    def test(self) -> FlowTest:
        """The first one's, in SI."""
        return self.document.flow_test()

    @cached_property
    def lifts(self) -> list[tuple[int, Decimal, float]]:
        """Number of each lift, with the lift as typed and in m."""
        of, numbers = self.document, range(1, len(self.tested) + 1)
        return [(n, lift, of.lift_si(lift)) for n, lift in zip(numbers, of.lifts, strict=True)]

    @cached_property
    def content(self) -> tuple[str, str]:
        """CONTENT before the flows and after them."""
        parts = [str(getattr(self.document, name)) for name in CONTENT]
        at = CONTENT.index("flows")
        before, after = parts[:at], parts[at + 1 :]
        return _SEPARATOR.join((*before, "")), _SEPARATOR.join(("", *after))


@dataclass(eq=False, slots=True)
class Test:
    """A row's flow test: a pattern, and what is its own."""

    pattern: Pattern
    measured_at: datetime
    stage: str
    cylinder: str
    operator: str
    notes: str
    cells: list[Cell]
    curve: AreaCurve = field(init=False)
    """Calculated once it is known to be good."""

    key: str = ""
    """Its entry's key: what it is, and what it holds."""

    casting: Mapping[str, str] = field(default_factory=dict)
    """Its head's numbers as its own row writes them; other rows of the head may not."""

    @property
    def side(self) -> str:
        """intake or exhaust."""
        return self.pattern.document.side

    @property
    def content(self) -> str:
        """Content of the test, which differs from that of any other test."""
        before, after = self.pattern.content
        comma = "," if len(self.cells) == 1 else ""
        return f"{before}({', '.join([cell.words for cell in self.cells])}{comma}){after}"

    def flow_test(self) -> FlowTest:
        """The test in SI, ready to be reduced."""
        runs = tuple([cell.si for cell in self.cells])
        return dataclasses.replace(self.pattern.test, runs=runs)

    def document(self, engine_type: str, head: str) -> SessionDocument:
        """The test as a session file would say it."""
        own = {name: getattr(self, name) for name in ("measured_at", "notes", *OWN)}
        runs = tuple(cell.typed for cell in self.cells)
        return dataclasses.replace(
            self.pattern.document, engine_type=engine_type, head=head, flows=runs, **own
        )


class Tests:
    """The tests of a sheet; what has been checked for one is not checked for the next."""

    def __init__(self, sheet: Sheet, air: Air, apart: Iterable[str]) -> None:
        """`apart` are columns that say nothing of the test itself."""
        self.sheet = sheet
        self.air = air
        self.lifts = flows.lift_columns(sheet)
        own = {"date", "test notes", *OWN, *apart}
        self.shared = [name for name in sheet.headings if name not in own]
        self.patterns: dict[tuple[Any, ...], Pattern] = {}
        self.cells: dict[tuple[Any, ...], Cells] = {}

    def of(self, records: Sequence[Record]) -> list[Test | None]:
        """The tests of some rows, calculated together; None where one has errors."""
        tests = [self._test(record) for record in records]
        good = [test for test in tests if test is not None]
        try:
            reduced = reduce_all([test.flow_test() for test in good])
        except ValueError:
            return [self._worked_out(*pair) for pair in zip(records, tests, strict=True)]
        for test, curve in zip(good, reduced.curves(), strict=True):
            test.curve = curve
        openings = iter(reduced.greatest_openings())
        return [
            test if test is None else self._possible(record, test, *next(openings))
            for record, test in zip(records, tests, strict=True)
        ]

    def _possible(self, record: Record, test: Test, coefficient: float, lift: int) -> Test | None:
        """A test whose flows its valve can pass; None, with a fault at the flow, for another."""
        heading = test.pattern.tested[lift].heading
        fault = impossible_flow(record.others[heading], coefficient)
        if fault:
            self.sheet.fault(record.row, heading, fault)
        return None if fault else test

    def _worked_out(self, record: Record, test: Test | None) -> Test | None:
        """A test calculated by itself; None, with a fault, where that cannot be."""
        if test is None:
            return None
        try:
            reduction = reduce(test.flow_test())
        except ValueError as error:
            faults = [FieldError("readings.flow", str(error))]
            flows.add_faults(self.sheet, record, faults, test.pattern.tested)
            return None
        test.curve, opening = reduction.curve, reduction.opening_coefficient
        return self._possible(record, test, float(opening.max()), int(opening.argmax()))

    def _test(self, record: Record) -> Test | None:
        kind = (*map(record.cells.get, self.shared), *record.others)
        pattern = self.patterns.get(kind)
        test = self._like(pattern, record) if pattern else None
        return test or self._first(kind, record)

    def _like(self, pattern: Pattern, record: Record) -> Test | None:
        """A test that follows a pattern checked before; None where it needs the full check."""
        measured_at = flows.moment(record.get("date"), self.sheet.writing.date_order)
        typed = record.others
        pairs = zip(pattern.cells, pattern.tested, strict=True)
        cells = [reader[typed[column.heading]] for reader, column in pairs]
        stage, cylinder, operator = own = [record.get(name) for name in OWN]
        notes = flows.notes(record, pattern.of_air)
        if (
            measured_at is None
            or flows.in_future(measured_at)
            or max(map(len, own)) > LONGEST_LINE
            or "\x00" in "".join((*own, notes))
        ):
            return None
        read_cells = [cell for cell in cells if cell is not None]
        if len(read_cells) < len(cells):
            return None
        return Test(pattern, measured_at, stage, cylinder, operator, notes, read_cells)

    def _first(self, kind: tuple[Any, ...], record: Record) -> Test | None:
        """A test of a new kind, checked whole; None, with its faults, where it has any."""
        document = flows.document(self.sheet, self.lifts, self.air, record)
        if document is None:
            return None
        tested = flows.tested_in(self.lifts, record)
        units_said = [column.flow_unit or record.get("flow unit") for column in tested]
        cells = self._cells(document, units_said)
        of_air = flows.said_of_air(record, self.air)
        self.patterns[kind] = pattern = Pattern(document, tested, cells, of_air)
        test = self._like(pattern, record)
        if test is None:
            raise RuntimeError(f"row {record.row} is checked, but not like itself")
        return test

    def _cells(self, document: SessionDocument, usual: Sequence[str]) -> list[Cells]:
        """Readers of the cells of each lift, for these usual units."""
        of = (document.flow_unit, document.leakage_flow())
        for unit in set(usual):
            if (unit, *of) not in self.cells:
                self.cells[unit, *of] = Cells(self.sheet, unit, document)
        return [self.cells[unit, *of] for unit in usual]
