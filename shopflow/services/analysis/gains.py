"""Gains on the flow bench, by engine type."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from statistics import median
from typing import Any, NamedTuple

from sqlalchemy import func, select
from sqlalchemy.orm import Session, joinedload, selectinload

from shopflow.calc.area_gain import AreaComparison, compare_areas
from shopflow.calc.set_up import are_of_one
from shopflow.models import BenchSession, Head, Operation, SessionLift, Visit
from shopflow.services.bench import metal_cuts, sessions
from shopflow.services.bench.metal_cuts import Cuts
from shopflow.services.shop.periods import Period


@dataclass(frozen=True)
class Gains:
    """Gains in mean effective area of an engine type's ports on one side, in percent."""

    engine_type: str
    side: str
    work: str
    """All that was cut between the tests: the gains are of all of it, and of none of it alone."""

    gains: tuple[float, ...]
    uncertainties: tuple[float, ...]
    """Of the gains that state one, for 95 %, in percentage points."""

    @property
    def median(self) -> float:
        """The gain in the middle."""
        return median(self.gains)

    @property
    def usual_uncertainty(self) -> float | None:
        """The uncertainty in the middle of those stated; none where no gain states one."""
        return median(self.uncertainties) if self.uncertainties else None


def by_engine_type(db: Session, period: Period) -> list[Gains]:
    """Gains of the ports whose last test was in the period, by engine type, side and work.

    A port counts once a visit: its last test against its first, over the lifts that both cover,
    credited to all that was cut in between. Left out are ports tested once, those whose tests
    share no lifts, and those tested on unlike set-ups.
    """
    pairs = _pairs(db, period)
    log = metal_cuts.log_of(db, _cutting({last.job_head.head for _, last in pairs}))
    by_type: dict[tuple[str, str, str], list[Gain]] = {}
    for first, last in pairs:
        gain = between(first, last)
        # A difference of set-ups that is meant is still not of the work alone.
        if gain is not None and _are_of_one(first, last):
            work = metal_cuts.between(first, last, log).work
            key = (last.job_head.head.engine_type.title, last.side, work)
            by_type.setdefault(key, []).append(gain)
    return [_gains(*key, some) for key, some in sorted(by_type.items())]


class Gain(NamedTuple):
    """Of one test over another in mean effective area, in percent; the uncertainty is for 95 %."""

    percent: float
    uncertainty: float | None


def _are_of_one(first: BenchSession, last: BenchSession) -> bool:
    tests = sessions.flow_test(first), sessions.flow_test(last)
    return are_of_one(tests[0].set_up, tests[1].set_up)


def _cutting(heads: Iterable[Head]) -> list[Operation]:
    """The steps of these heads that cut metal, on whatever visits."""
    steps = (step for head in heads for visit in head.visits for step in visit.operations)
    return [step for step in steps if step.kind.cuts_metal]


def _gains(engine_type: str, side: str, work: str, port_gains: Sequence[Gain]) -> Gains:
    stated = tuple(gain.uncertainty for gain in port_gains if gain.uncertainty is not None)
    return Gains(engine_type, side, work, tuple(gain.percent for gain in port_gains), stated)


def between(first: BenchSession, last: BenchSession) -> Gain | None:
    """The last test of a port over the first, where their lifts and their set-ups allow it.

    The uncertainty is left out where it cannot be stated.
    """
    areas = compare_areas([sessions.reduction(first)], [sessions.reduction(last)])
    mean = areas.mean
    if mean is None or areas.unlike:
        return None
    uncertainty = mean.expanded_uncertainty
    return Gain(100.0 * mean.gain, None if uncertainty is None else 100.0 * uncertainty)


@dataclass(frozen=True)
class OverFirst:
    """A test against the first one of its port."""

    first: BenchSession
    areas: AreaComparison
    cuts: Cuts
    """All that was cut between the two."""


def over_first(row: BenchSession) -> OverFirst | None:
    """A test over the first of its port on its visit; None for that one, or a withdrawn test."""
    port = (row.side, row.cylinder)
    of_port = [other for other in row.job_head.sessions if (other.side, other.cylinder) == port]
    if not row.counts or of_port[0] is row:
        return None
    first = of_port[0]
    areas = compare_areas([sessions.reduction(first)], [sessions.reduction(row)])
    return OverFirst(first, areas, metal_cuts.between(first, row))


def _pairs(db: Session, period: Period) -> list[tuple[BenchSession, BenchSession]]:
    """First and last test of every port tested more than once, the last in the period."""
    query = (
        select(
            BenchSession.id,
            func.coalesce(BenchSession.measured_at, BenchSession.entered_at),
            BenchSession.job_head_id,
            BenchSession.side,
            BenchSession.cylinder,
        )
        .where(BenchSession.counts)
        .order_by(BenchSession.position, BenchSession.id)
    )
    ports: dict[tuple[Any, ...], list[tuple[int, datetime]]] = {}
    for key, tested, *port in db.execute(query):
        ports.setdefault(tuple(port), []).append((key, tested))
    ends = [
        (tests[0][0], tests[-1][0])
        for tests in ports.values()
        if len(tests) > 1 and period.begins <= tests[-1][1] < period.ends
    ]
    loaded = _loaded(db, [key for pair in ends for key in pair])
    return [(loaded[first], loaded[last]) for first, last in ends]


def _loaded(db: Session, keys: Sequence[int]) -> dict[int, BenchSession]:
    """These sessions with all that their figures are calculated from."""
    visit = joinedload(BenchSession.job_head)
    query = (
        select(BenchSession)
        .where(BenchSession.id.in_(keys))
        .options(
            selectinload(BenchSession.lifts).selectinload(SessionLift.readings),
            selectinload(BenchSession.set_up_confirmations),
            visit.joinedload(Visit.head).joinedload(Head.engine_type),
            visit.joinedload(Visit.head).selectinload(Head.visits).joinedload(Visit.job),
            visit.joinedload(Visit.head)
            .selectinload(Head.visits)
            .selectinload(Visit.operations)
            .joinedload(Operation.kind),
        )
    )
    return {row.id: row for row in db.scalars(query)}
