"""The sizes that a flow test of one side starts from, and how they differ from the test before."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopflow.models import (
    BenchSession,
    EngineType,
    Measurement,
    Operation,
    Visit,
    When,
)
from shopflow.services.measuring import usual_values
from shopflow.texts import lazy
from shopflow.units import Quantity, pretty_text

NAMES = {
    "head_diameter": lazy("Valve head diameter"),
    "stem_diameter": lazy("Stem diameter"),
    "seat_angle": lazy("Seat angle"),
    "seat_width": lazy("Seat width"),
    "throat_diameter": lazy("Throat diameter"),
    "area": lazy("Port area"),
}
"""Sizes of a valve and its port by their keys in the session file, as they are called."""

COLUMNS = {**{key: key for key in NAMES}, "area": "port_area"}
"""The column of a flow test that each size is in."""

CODES = {
    "valve head diameter": "head_diameter",
    "stem diameter": "stem_diameter",
    "seat angle": "seat_angle",
    "seat width": "seat_width",
    "throat diameter": "throat_diameter",
    "port area": "area",
}
"""Measurements by their code, and the key of the size each one is."""

SAME = 1e-6
"""Relative difference below which two sizes are one, typed in different units."""


@dataclass(frozen=True)
class Difference:
    """A size that is not what the head's earlier test of that side had."""

    name: str
    now: str
    then: str
    earlier: BenchSession


@dataclass(frozen=True)
class Outdated:
    """A port area from before a step that cut metal, and so not taken over."""

    area: str
    step: Operation


@dataclass(frozen=True)
class Sizes:
    """Sizes as typed, by their keys in the session file, with remarks on them."""

    typed: Mapping[str, str]
    differences: tuple[Difference, ...]
    outdated: Outdated | None


def starting(db: Session, visit: Visit, side: str, cylinder: str) -> Sizes:
    """Sizes that a new test of a side begins with.

    From this head's last test of that side, then from its measurements, where one was taken since
    that test or the test has none, then from what is usual of the engine type.
    """
    earlier = last_test(db, visit, side, cylinder)
    typed = {"count": str(valves_lifted(visit.head.engine_type, side))}
    typed |= _usual(db, visit.head.engine_type, side)
    dates: dict[str, datetime] = {}
    area_measured: Measurement | None = None
    if earlier is not None:
        typed["count"] = str(earlier.valve_count)
        stated = {key: size.text for key, size in _sizes(earlier)}
        typed |= stated
        dates = dict.fromkeys(stated, tested_at(earlier))
    for key, row in measured(visit, side, cylinder).items():
        if key not in dates or row.at > dates[key]:
            typed[key], dates[key] = row.value.text, row.at
            area_measured = row if key == "area" else area_measured
    cut = cut_since(visit, dates["area"], area_measured) if "area" in dates else None
    outdated = Outdated(typed.pop("area"), cut) if cut is not None else None
    quantities = {key: row.value for key, row in measured(visit, side, cylinder).items()}
    in_use = {key: size for key, size in quantities.items() if typed.get(key) == size.text}
    differences = tuple(_against(earlier, in_use)) if earlier is not None else ()
    return Sizes(typed, differences, outdated)


def differing(
    db: Session, visit: Visit, side: str, cylinder: str, sizes: Mapping[str, Quantity | None]
) -> list[Difference]:
    """The sizes, by their keys, that differ from those of the head's last test of that side."""
    earlier = last_test(db, visit, side, cylinder)
    return list(_against(earlier, sizes)) if earlier is not None else []


def of_test(db: Session, row: BenchSession) -> list[Difference]:
    """The sizes of a test on record that differ from those of the test of that side before it."""
    earlier = last_test(db, row.job_head, row.side, row.cylinder, before=row)
    return list(_against(earlier, dict(_sizes(row)))) if earlier is not None else []


def measured(visit: Visit, side: str, cylinder: str) -> dict[str, Measurement]:
    """The latest measurement of each size of a valve and its port, by its key.

    One of this very cylinder is taken before one of the side alone, a later before an earlier.
    """
    latest: dict[str, Measurement] = {}
    for row in visit.measurements:
        key = CODES.get(row.kind.code)
        if key is None or row.side not in ("", side) or not of_cylinder(row, cylinder):
            continue
        if row.cylinder is not None or key not in latest or latest[key].cylinder is None:
            latest[key] = row
    return latest


def _usual(db: Session, engine_type: EngineType, side: str) -> dict[str, str]:
    """The usual sizes of a side, as typed, by their keys."""
    return {
        CODES[row.kind.code]: row.value.text
        # A side's own comes after that of both, and so in place of it.
        for row in sorted(usual_values.of_engine_type(db, engine_type), key=lambda row: row.side)
        if row.kind.code in CODES and row.side in ("", side) and row.valve == 0
    }


def valves_lifted(engine_type: EngineType, side: str) -> int:
    """Valves of one side of a cylinder; where none are named, of an odd number the intake has one
    more."""
    named = len(engine_type.valve_names(side))
    if named:
        return named
    exhaust = max(1, engine_type.valves_per_cylinder // 2)
    return exhaust if side == "exhaust" else max(1, engine_type.valves_per_cylinder - exhaust)


def last_test(
    db: Session, visit: Visit, side: str, cylinder: str, before: BenchSession | None = None
) -> BenchSession | None:
    """The casting's last test of a side on any visit, one of this cylinder first; none of none."""
    moment = func.coalesce(BenchSession.measured_at, BenchSession.entered_at)
    query = (
        select(BenchSession)
        .join(BenchSession.job_head)
        .where(Visit.head_id == visit.head_id, BenchSession.side == side, BenchSession.counts)
        .order_by((BenchSession.cylinder != cylinder), moment.desc(), BenchSession.id.desc())
        .limit(1)
    )
    if before is not None:
        query = query.where(BenchSession.id != before.id, moment <= tested_at(before))
    return db.scalars(query).first()


def cut_since(
    visit: Visit, since: datetime, measurement: Measurement | None = None
) -> Operation | None:
    """The first step of a visit that cut metal after a moment, at which a measurement was taken."""
    return next(_cuts(visit, since, measurement), None)


def cut_between(visit: Visit, measurement: Measurement, row: BenchSession) -> Operation | None:
    """The first step that cut metal after a measurement and before a test of that visit."""
    until, followed = tested_at(row), row.after_operation
    for step in _cuts(visit, measurement.at, measurement):
        signed = step.signed_off_at
        if followed is not None and followed.position >= step.position:
            return step
        if signed is not None and signed <= until:
            return step
    return None


def _cuts(visit: Visit, since: datetime, measurement: Measurement | None) -> Iterator[Operation]:
    """Steps that cut metal and were signed off after a moment.

    One taken after the work of a step was taken after its cut, though its sign-off came later.
    """
    is_after = measurement is not None and measurement.when is When.AFTER
    measured_in = measurement.operation if measurement is not None and is_after else None
    for step in visit.finished_steps:
        is_later = step.signed_off_at is not None and step.signed_off_at > since
        if step.kind.cuts_metal and is_later and step is not measured_in:
            yield step


def tested_at(row: BenchSession) -> datetime:
    """The moment of a test; where it is not stated, that of its entry."""
    return row.measured_at or row.entered_at


def _sizes(row: BenchSession) -> Iterator[tuple[str, Quantity]]:
    for key, column in COLUMNS.items():
        size: Quantity | None = getattr(row, column)
        if size is not None:
            yield key, size


def _against(earlier: BenchSession, sizes: Mapping[str, Quantity | None]) -> Iterator[Difference]:
    """Each of these sizes that the earlier test has another value of."""
    then = dict(_sizes(earlier))
    for key, name in NAMES.items():
        now, before = sizes.get(key), then.get(key)
        if now is None or before is None or abs(now.si - before.si) <= SAME * before.si:
            continue
        yield Difference(name, pretty_text(now.text), pretty_text(before.text), earlier)


def of_cylinder(row: Measurement, cylinder: str) -> bool:
    """True where a measurement is of a cylinder, or names none."""
    return row.cylinder is None or str(row.cylinder) == cylinder
