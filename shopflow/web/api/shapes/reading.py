"""Readings of instruments, and the flow test they go into."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from shopflow import models
from shopflow.services.bench import captures
from shopflow.services.bench.captures import RUNS, ChannelReading, NewCapture


@dataclass(frozen=True)
class Channel:
    """One quantity of a reading: `flow`, `test pressure`, `barometer`, `temperature`, `humidity` or
    `lift`, with its steady samples in order, in `unit`; `sd` is their sample standard deviation.
    """

    name: str
    unit: str
    mean: float
    sd: float
    samples: list[float]
    instrument: str = ""


@dataclass(frozen=True)
class NewReading:
    """A reading at a lift, as "0.3 in", for the draft whose key is `test`; `doubts` are shown."""

    test: str
    taken_at: datetime
    lift: str
    channels: list[Channel]
    doubts: list[str] | None = None

    @property
    def capture(self) -> NewCapture:
        """As the service takes it."""
        channels = [
            ChannelReading(item.name, item.unit, item.mean, item.sd, item.samples,
                           item.instrument[:100])
            for item in self.channels
        ]  # fmt: skip
        doubts = [words[:200] for words in self.doubts or ()]
        return NewCapture(self.test[:40], self.taken_at, self.lift[:60], channels, doubts)


@dataclass(frozen=True)
class Reading:
    """A reading of instruments on record; `cell` is the field of the test's form it went into."""

    id: int
    tag: str
    test: str
    bench_id: int | None
    taken_at: datetime
    received_at: datetime
    lift: str
    cell: str
    typed: str
    channels: list[Channel]
    doubts: list[str]

    @classmethod
    def of(cls, row: models.Capture) -> Reading:
        """A reading with its samples."""
        cell, typed = next((name, text) for name, text in row.cells.items() if name.endswith(RUNS))
        channels = [
            Channel(item.name, item.unit, item.mean, item.sd, [*item.samples], item.instrument)
            for item in captures.readings_of(row).values()
        ]
        return cls(
            id=row.id,
            tag=row.job_head.tag,
            test=row.entry_key,
            bench_id=row.bench_id,
            taken_at=row.taken_at,
            received_at=row.received_at,
            lift=row.lift,
            cell=cell,
            typed=typed,
            channels=channels,
            doubts=[*row.doubts],
        )


@dataclass(frozen=True)
class LiftRow:
    """A row of a test being taken, as typed; `runs` are its readings."""

    lift: str
    runs: list[str]


@dataclass(frozen=True)
class OpenTest:
    """A flow test that is being taken; `test` is its key."""

    tag: str
    test: str
    bench: str
    side: str
    cylinder: str
    stage: str
    lift_unit: str
    flow_unit: str
    test_pressure: str
    rows: list[LiftRow]

    @classmethod
    def of(cls, row: models.TestDraft) -> OpenTest:
        """A draft as typed so far."""
        typed = row.typed
        return cls(
            tag=row.job_head.tag,
            test=row.key,
            bench=typed.get("bench-name", ""),
            side=row.side,
            cylinder=typed.get("cylinder", ""),
            stage=typed.get("stage", ""),
            lift_unit=typed.get("lift_unit", ""),
            flow_unit=typed.get("flow_unit", ""),
            test_pressure=typed.get("bench-test_pressure", ""),
            rows=_rows(typed),
        )


@dataclass(frozen=True)
class Bench:
    """The bench of a token, with the flow tests being taken at it."""

    id: int
    name: str
    tests: list[OpenTest]


def _rows(typed: Mapping[str, str]) -> list[LiftRow]:
    places = sorted({int(name.split("-")[1]) for name in typed if captures.is_row(name)})
    rows = []
    for place in places:
        runs = [typed.get(f"rows-{place}-{run}", "").strip() for run in RUNS]
        lift = typed.get(f"rows-{place}-lift", "").strip()
        if lift or any(runs):
            rows.append(LiftRow(lift, [run for run in runs if run]))
    return rows
