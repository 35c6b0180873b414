"""Past results of an engine type together: their band, their ranks, and the best with its work."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from operator import attrgetter

from sqlalchemy.orm import Session

from shopflow.calc.band import BandPoint, band, common_range, mean_between, rank
from shopflow.calc.set_up import SetUp, unlike_parts
from shopflow.documents.past_results import PastBand
from shopflow.models import EngineType, Measurement, Operation, When
from shopflow.services.bench import cache, past_tests, sessions
from shopflow.services.bench.past_tests import Result, Wanted
from shopflow.services.bench.summaries import flow_shown
from shopflow.services.registry import castings, engine_types
from shopflow.texts import gettext
from shopflow.units import pretty_text, to_si

FEWEST_FOR_BAND = 3
"""Heads at a place below which quartiles say nothing."""

_DRAWN = ("least", "lower_quartile", "median", "upper_quartile", "greatest")
"""Of a band's points, by their names."""

STEPS = {"lift": to_si(0.5, "mm"), "L/D": 0.02}
"""Distance of a band's places, in m and in L/D."""


@dataclass(frozen=True)
class Band:
    """Results of past heads on a side, over "lift" (m) or "L/D"; effective areas in m2.

    Each head counts once, with its latest test: what it showed at several is no news of others.
    """

    side: str
    stage: str
    over: str
    heads: int
    points: tuple[BandPoint, ...]
    left_out: int = 0
    """Heads whose tests stood on another set-up than the curve before the band."""

    def past_band(self, flow_per_area: float | None = None) -> PastBand | None:
        """The band as charts take it; none of too few heads.

        Flows are at 28 inH2O, unless a chart of a test gives its own flow per area in the standard
        air, m/s: then band and test are at one pressure.
        """
        firm = self.firm
        if len(firm) < 2:
            return None
        scale = flow_shown(1.0, self.side) if flow_per_area is None else flow_per_area
        least, low, middle, high, greatest = (
            tuple(scale * value for value in map(attrgetter(column), firm)) for column in _DRAWN
        )
        name = gettext("{heads} past heads: the middle half, median and extremes", heads=self.heads)
        if self.left_out:
            name = gettext("{name}; without {num} on unlike set-ups", name=name, num=self.left_out)
        along = tuple(point.x for point in firm)
        return PastBand(name, self.over, along, low, middle, high, least, greatest)

    @property
    def firm(self) -> tuple[BandPoint, ...]:
        """The longest stretch of points that three heads or more make; what a chart shows."""
        longest: list[BandPoint] = []
        now: list[BandPoint] = []
        for point in self.points:
            now = [*now, point] if point.count >= FEWEST_FOR_BAND else []
            longest = now if len(now) > len(longest) else longest
        return tuple(longest)


@dataclass(frozen=True)
class Ranked:
    """A test and its place, the best first."""

    place: int
    mean: float
    """Mean effective area over the lifts that all have, m2; the greatest where they have none."""

    result: Result

    @property
    def mean_flow(self) -> float:
        """Flow that this area is shown as, m3/s."""
        return flow_shown(self.mean, self.result.side)


@dataclass(frozen=True)
class Ranking:
    """Past tests by mean effective area, between the lifts (m) that all of them have.

    Where they have no range of lift in common they are ranked by their greatest area, and the
    lifts are none.
    """

    lifts: tuple[float, float] | None
    ranked: tuple[Ranked, ...]

    @property
    def best(self) -> Ranked | None:
        """The first of them."""
        return self.ranked[0] if self.ranked else None


@dataclass(frozen=True)
class Step:
    """One operation done, with what it measured on this side before and after."""

    tag: str
    """Of an earlier visit it was done on; empty where it was done on the test's own."""

    operation: Operation
    figures: tuple[tuple[str, str, str, str], ...]
    """Kind, place, before, after; as typed."""


def band_for(
    db: Session,
    engine_type: EngineType,
    side: str,
    stage: str | None = None,
    *,
    over: str = "lift",
    but_tag: str | None = None,
    set_up: SetUp | None = None,
) -> Band:
    """The band of past results of an engine type and its relatives, for a curve to lie before.

    `stage` is a stage as written, `past_tests.LAST_OF_PORT`, or none for every stage; tests of the
    head whose tag is `but_tag` are left out, and those on another set-up than that of the curve.
    """
    stated = None if set_up is None else set_up.stated
    kin = _kin(db, engine_type)

    def calculate() -> Band:
        tests = past_tests.of_keys(db, kin, Wanted(side=side, stage=stage or ""))
        others = [test for test in tests if test.tag != but_tag]
        alike = [test for test in others if set_up is None or not unlike_parts(test.set_up, set_up)]
        band = band_of(alike, side, stage or "", over)
        return replace(band, left_out=len(latest_of_heads(others)) - band.heads)

    key = ("band", side, stage or "", over, but_tag, stated)
    return cache.unless_changed(db, kin, key, calculate)


def best_test(db: Session, engine_type: EngineType, side: str) -> int | None:
    """Key of the best test of an engine type and its relatives; none where there are none."""
    kin = _kin(db, engine_type)

    def calculate() -> int | None:
        best = ranking(past_tests.of_keys(db, kin, Wanted(side=side))).best
        return best.result.session_id if best else None

    return cache.unless_changed(db, kin, ("best", side), calculate)


def _kin(db: Session, engine_type: EngineType) -> tuple[int, ...]:
    """Keys of an engine type and its relatives."""
    return (engine_type.id, *engine_types.keys_of_relatives(db, engine_type))


def band_of(tests: Sequence[Result], side: str, stage: str, over: str = "lift") -> Band:
    """The band of the heads that these results are of, given the latest first."""
    latest = latest_of_heads(tests)
    points = band([result.curve(over) for result in latest], STEPS[over])
    return Band(side, stage, over, len(latest), points)


def latest_of_heads(tests: Iterable[Result]) -> list[Result]:
    """The first result of each head, which is its latest where they come the latest first."""
    latest: dict[int, Result] = {}
    for result in tests:
        latest.setdefault(result.head_id, result)
    return list(latest.values())


def ranking(tests: Sequence[Result]) -> Ranking:
    """These results, the best first; of equals the earlier test first."""
    lifts = common_range([result.curve("lift") for result in tests])
    if lifts is None:
        means = [result.peak_area for result in tests]
    else:
        means = [mean_between(result.curve("lift"), *lifts) for result in tests]
    ranked = [
        Ranked(rank(mean, means), mean, result) for mean, result in zip(means, tests, strict=True)
    ]
    ranked.sort(key=lambda item: (item.place, item.result.tested, item.result.session_id))
    return Ranking(lifts, tuple(ranked))


def what_was_done(db: Session, result: Result) -> list[Step]:
    """The operations that a head went through before a test, with what they measured.

    Of earlier visits, those that shaped ports, chambers or seats.
    """
    row = sessions.get(db, result.session_id)
    visit = row.job_head
    last = row.after_operation.position if row.after_operation else 0
    earlier = [
        (visit_before.tag, step)
        for visit_before in castings.visits_before(visit)
        for step in castings.porting_of(visit_before)
    ]
    own = [("", step) for step in visit.operations if step.position <= last and step.counts]
    return [
        Step(tag, step, _figures(step.measurements, row.side)) for tag, step in (*earlier, *own)
    ]


def _figures(
    measurements: Iterable[Measurement], side: str
) -> tuple[tuple[str, str, str, str], ...]:
    """Figures of a side, what was measured before and after the work in one row."""
    rows: dict[tuple[str, str], dict[When, str]] = {}
    for measurement in measurements:
        if measurement.side in ("", side):
            values = rows.setdefault((measurement.kind.name, measurement.where), {})
            values[measurement.when] = pretty_text(str(measurement.value))
    return tuple(
        (name, where, values.get(When.BEFORE, ""), values.get(When.AFTER, ""))
        for (name, where), values in rows.items()
    )
