"""Benches' days, and the fixtures that stand on them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from shopflow import models
from shopflow.web.api.shapes.quantity import Quantity


@dataclass(frozen=True)
class Fixture:
    """A fixture of a bench; no new test is offered one that is archived.

    `stated` is the text by which a flow test names it.
    """

    id: int
    kind: models.FixtureKind
    name: str
    bore: Quantity | None
    length: Quantity | None
    radius: Quantity | None
    notes: str
    stated: str
    archived_at: datetime | None

    @classmethod
    def of(cls, row: models.Fixture) -> Fixture:
        """A fixture on record."""
        return cls(
            id=row.id,
            kind=row.kind,
            name=row.name,
            bore=Quantity.of(row.bore),
            length=Quantity.of(row.length),
            radius=Quantity.of(row.radius),
            notes=row.notes,
            stated=row.stated,
            archived_at=row.archived_at,
        )


@dataclass(frozen=True)
class BenchDay:
    """A day, in the shop's time zone, on which a bench was warmed up for some minutes."""

    id: int
    bench_id: int
    bench: str
    day: date
    minutes: int

    @classmethod
    def of(cls, row: models.BenchDay) -> BenchDay:
        """A bench day on record."""
        return cls(row.id, row.bench_id, row.bench.name, row.day, row.minutes)


@dataclass(frozen=True)
class LeakCheck:
    """The leakage of a bench's range with the valve shut, at one pressure."""

    id: int
    bench_id: int
    range: str
    at: datetime
    pressure: Quantity
    leakage: Quantity
    notes: str

    @classmethod
    def of(cls, row: models.LeakCheck) -> LeakCheck:
        """A leak check on record."""
        return cls(
            id=row.id,
            bench_id=row.range.bench_id,
            range=row.range.name,
            at=row.at,
            pressure=Quantity.of(row.pressure),
            leakage=Quantity.of(row.leakage),
            notes=row.notes,
        )


@dataclass(frozen=True)
class PlateCheck:
    """A bench's range set against a plate of known flow; `ratio` is 1 where it reads true."""

    id: int
    bench_id: int
    range: str
    at: datetime
    plate: str
    expected: Quantity
    indicated: Quantity
    ratio: float
    notes: str

    @classmethod
    def of(cls, row: models.BenchCheck) -> PlateCheck:
        """A check on record."""
        return cls(
            id=row.id,
            bench_id=row.range.bench_id,
            range=row.range.name,
            at=row.at,
            plate=row.plate,
            expected=Quantity.of(row.expected),
            indicated=Quantity.of(row.indicated),
            ratio=row.ratio,
            notes=row.notes,
        )
