"""A head's sheet of measurements: places down, kinds across, before and after the work.

A cell is a measurement of its own: filling it adds one, filling it again corrects it. So nothing
waits to be saved, and the sheet is only another view of the records. The sheet of a step shows what
was measured on that step, the sheet of a visit the latest of all its steps.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.errors import ConflictError, FieldError, NotFoundError, ValidationError
from shopflow.models import (
    EngineLimit,
    HeadPlace,
    HeadPlan,
    Measurement,
    MeasurementKind,
    Operation,
    PlaceKind,
    Visit,
    When,
)
from shopflow.models.places import OF_A_PORT, OF_A_VALVE
from shopflow.services.actor import Actor
from shopflow.services.measuring import calculated, doubtful, limits, measurements, usual_values
from shopflow.services.measuring.sheet_cells import Cell, Key, Sheet, Table
from shopflow.services.shop import built_in_kinds
from shopflow.texts import gettext
from shopflow.units import Quantity, UnitSystem, units_of

_CELL = re.compile(
    r"cell-(?P<kind>[0-9]{1,9})-(?P<cylinder>[0-9]{0,3})-(?P<side>intake|exhaust|)-"
    r"(?P<valve>[0-9]{0,2})-(?P<when>before|after)"
)
_BARE = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)")
ROWS = {
    "valves": OF_A_VALVE,
    "ports": OF_A_PORT,
    "cylinders": frozenset({PlaceKind.CYLINDER}),
    "head": frozenset({PlaceKind.HEAD}),
}
"""The tables of a sheet by what their rows are, and the kinds of place in each."""


@dataclass(frozen=True)
class Units:
    """The units of a sheet's columns: its page's, else those its values and limits are in."""

    system: UnitSystem
    """The shop's, for a column that has neither values nor limits."""

    chosen: Mapping[int, str] = field(default_factory=dict)
    """By the key of the kind."""

    def of(self, kind: MeasurementKind, lookup: Lookup) -> str:
        """The unit that bare numbers of a column are in."""
        unit = self.chosen.get(kind.id, "")
        if unit in units_of(kind.dimension):
            return unit
        if kind.id in lookup.units:
            return lookup.units[kind.id]
        return kind.unit_in(self.system)


@dataclass(frozen=True)
class Lookup:
    """Records that a sheet shows: rows by kind, place and time; limits by kind and side."""

    now: Mapping[tuple[int, Key, When], Measurement]
    last: Mapping[tuple[int, Key], Quantity]
    limits: Mapping[tuple[int, str], EngineLimit]
    usual: Mapping[tuple[int, str, int], Quantity]
    """By kind, side and valve; an empty side and valve 0 hold for all."""

    doubts: Mapping[Measurement, str] = field(default_factory=dict)

    @cached_property
    def units(self) -> Mapping[int, str]:
        """The unit most values of a kind are in, by its key; else most of its last values, its
        limits or its usual values."""
        bounds = (
            (key, bound)
            for (key, _), limit in self.limits.items()
            for bound in (limit.lower, limit.upper)
            if bound
        )
        return (
            _most_used((key, value) for (key, *_), value in self.usual.items())
            | _most_used(bounds)
            | _most_used((key, value) for (key, _), value in self.last.items())
            | _most_used((key, row.value) for (key, *_), row in self.now.items())
        )

    def usual_at(self, kind: MeasurementKind, place: HeadPlace) -> Quantity | None:
        """Usual value at a place: the valve's own, else its side's, else that of both."""
        keys = ((place.side, place.valve or 0), (place.side, 0), ("", 0))
        values = (self.usual.get((kind.id, *key)) for key in keys)
        return next((value for value in values if value is not None), None)


def _most_used(values: Iterable[tuple[int, Quantity]]) -> dict[int, str]:
    """The unit most of the values of each key are in."""
    units: dict[int, list[str]] = defaultdict(list)
    for key, value in values:
        units[key].append(value.unit)
    return {key: max(dict.fromkeys(used), key=used.count) for key, used in units.items()}


def sheet(
    db: Session,
    visit: Visit,
    step: Operation | None,
    chosen: Sequence[MeasurementKind],
    units: Units,
    whens: Sequence[When] = (When.BEFORE, When.AFTER),
    of: Sequence[Measurement] | None = None,
) -> Sheet:
    """A visit's sheet of the kinds chosen, of all its measurements or those given.

    Raises NotFoundError where the layout of its engine type is not recorded.
    """
    plan = visit.head.plan
    if plan is None:
        raise NotFoundError(gettext("the head layout of this engine type is not recorded"))
    measured = visit.measurements if of is None else of
    lookup = _lookup(db, visit, step, measured)
    tables = (
        _table(code, [kind for kind in chosen if kind.place_kind in places], plan, lookup, units,
               tuple(whens))
        for code, places in ROWS.items()
    )  # fmt: skip
    unplaced = tuple(
        row
        for row in measured
        if row.place_in(plan) is None or row.place or row.distance is not None
    )
    return Sheet(visit, step, plan, tuple(table for table in tables if table.kinds), unplaced)


def usual_columns(
    db: Session, visit: Visit, step: Operation | None, asked_for: Iterable[str] = ()
) -> list[MeasurementKind]:
    """The kinds a sheet shows: those asked for by code, else the step's, else those in use."""
    codes = set(asked_for)
    if not codes and step is not None:
        codes = set(step.kind.asks_for)
    for code in codes & calculated.BY_CODE.keys():
        codes |= set(calculated.BY_CODE[code].inputs)
    if not codes:
        codes = {row.kind.code for row in visit.measurements}
    if not codes:
        codes = {code for row in visit.operations for code in row.kind.asks_for}
    return [kind for kind in built_in_kinds.measurement_kinds(db) if kind.code in codes]


def fill(
    db: Session,
    by: Actor,
    visit: Visit,
    step: Operation | None,
    name: str,
    typed: str,
    seen: str,
    units: Units,
) -> list[Cell]:
    """Record what was typed in a cell; gives it and those that follow from it as they are now.

    `seen` is what the cell held when it was filled. A number without a unit is in the column's.
    Raises ValidationError at the cell, ConflictError where someone else filled it meanwhile.
    """
    cell = _cell(db, visit, step, name, units)
    text = typed.strip()
    if text == cell.text:
        return [cell]
    if cell.text != seen.strip():
        who = cell.row.person.name if cell.row and cell.row.person else gettext("someone")
        now = cell.text or gettext("nothing")
        raise ConflictError(
            gettext(
                "{who} entered {now} meanwhile: enter yours again to replace it", who=who, now=now
            )
        )
    if not text:
        message = gettext("strike the measurement out with a reason to remove it")
        raise ValidationError([FieldError(name, message)])
    _record(db, by, visit, step, cell, text)
    code = cell.kind.code
    following = calculated.BY_INPUT.get(code)
    kinds = [cell.kind]
    if following is not None:
        kinds += [k for k in built_in_kinds.measurement_kinds(db) if k.code == following.code]
    lookup = _lookup(db, visit, step, visit.measurements)
    places = [cell.place]
    if code in doubtful.FAR and visit.head.plan is not None:
        # One value may make another doubtful, or doubtful no longer.
        others = visit.head.plan.places(cell.kind.place_kind)
        places += [place for place in others if place.key != cell.place.key]
    return [_cell_at(kind, place, cell.when, lookup, units) for kind in kinds for place in places]


def text_now(db: Session, visit: Visit, step: Operation | None, name: str, units: Units) -> str:
    """Text of a cell as it is now. Raises NotFoundError."""
    return _cell(db, visit, step, name, units).text


def _record(
    db: Session, by: Actor, visit: Visit, step: Operation | None, cell: Cell, text: str
) -> None:
    value = f"{text} {cell.unit}" if _BARE.fullmatch(text) else text
    try:
        if cell.row is not None:
            measurements.correct(db, by, cell.row, {"value": value})
            return
        cylinder, side, valve = cell.place.key
        values = {"cylinder": cylinder, "side": side, "valve": valve, "when": cell.when.value}
        measurements.record(db, by, visit, cell.kind.id, {**values, "value": value}, step)
    except ValidationError as error:
        raise ValidationError(
            [FieldError(cell.name, fault.message) for fault in error.faults]
        ) from None


def _cell(db: Session, visit: Visit, step: Operation | None, name: str, units: Units) -> Cell:
    """The cell of this name. Raises NotFoundError where the sheet of the head has none."""
    match, plan = _CELL.fullmatch(name), visit.head.plan
    if match is None or plan is None:
        raise NotFoundError(gettext("this cell does not exist: reload the page"))
    kind = measurements.get_kind(db, int(match["kind"]))
    key = (int(match["cylinder"] or 0) or None, match["side"], int(match["valve"] or 0) or None)
    place = plan.place_at(kind.place_kind, key)
    if place is None:
        raise NotFoundError(gettext("this place of the head does not exist: reload the page"))
    return _cell_at(kind, place, When(match["when"]),
                    _lookup(db, visit, step, visit.measurements), units)  # fmt: skip


def _lookup(
    db: Session, visit: Visit, step: Operation | None, measured: Iterable[Measurement]
) -> Lookup:
    now: dict[tuple[int, Key, When], Measurement] = {}
    plan = visit.head.plan
    last = _last(db, visit, plan) if plan else {}
    for row in measured:
        place = row.place_in(plan) if plan else None
        if place is None or row.place or row.distance is not None:
            # Taken at one spot of several, so not the one value of its place.
            continue
        if step is None or row.operation is step:
            now[row.kind_id, place.key, row.when] = row
        else:
            last[row.kind_id, place.key] = row.value
    engine_type = visit.head.engine_type
    limit_rows = {(row.kind_id, row.side): row for row in limits.of_engine_type(db, engine_type)}
    usual = {
        (row.kind_id, row.side, row.valve): row.value
        for row in usual_values.of_engine_type(db, engine_type)
    }
    return Lookup(now, last, limit_rows, usual, doubtful.of_visit(db, visit))


def _last(db: Session, visit: Visit, plan: HeadPlan) -> dict[tuple[int, Key], Quantity]:
    """Last value at each place on the casting's earlier visits."""
    query = (
        select(Measurement)
        .join(Measurement.job_head)
        .where(Visit.head_id == visit.head_id, Visit.id < visit.id, Measurement.counts)
        .where(Measurement.place == "", Measurement.datum.is_(None))
        .order_by(Measurement.at, Measurement.id)
    )
    placed = ((row, row.place_in(plan)) for row in db.scalars(query))
    return {(row.kind_id, place.key): row.value for row, place in placed if place is not None}


def _table(
    code: str,
    kinds: list[MeasurementKind],
    plan: HeadPlan,
    lookup: Lookup,
    units: Units,
    whens: tuple[When, ...],
) -> Table:
    rows = []
    kind_of_row = kinds[0].place_kind if kinds else PlaceKind.HEAD
    if kind_of_row in OF_A_VALVE:
        # A row holds its valve, seat, guide and spring, and is called by the valve.
        kind_of_row = PlaceKind.VALVE
    for place in plan.places(kind_of_row) if kinds else ():
        cells = []
        for kind in kinds:
            own = plan.place_at(kind.place_kind, place.key)
            cells += [_cell_at(kind, own or place, when, lookup, units) for when in whens]
        rows.append((place, tuple(cells)))
    return Table(code, tuple(kinds), tuple(rows), whens)


def _cell_at(
    kind: MeasurementKind, place: HeadPlace, when: When, lookup: Lookup, units: Units
) -> Cell:
    unit = units.of(kind, lookup)
    decimals = kind.us_decimals if unit == kind.us_unit else kind.si_decimals
    side = lookup.limits.get((kind.id, place.side)) or lookup.limits.get((kind.id, ""))
    row = lookup.now.get((kind.id, place.key, when))
    return Cell(
        kind, place, when, row, lookup.last.get((kind.id, place.key)), side,
        lookup.usual_at(kind, place), unit, decimals, lookup.doubts.get(row, "") if row else "",
    )  # fmt: skip
