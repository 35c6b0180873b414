"""Limit checks of a step's measurements: requested, within or outside limits, or missing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from shopflow.models import (
    Choice,
    Decision,
    IntegrityTest,
    IntegrityVerdict,
    Measurement,
    MeasurementKind,
    Operation,
    Verdict,
    When,
)
from shopflow.models.places import OF_A_VALVE, PlaceKind
from shopflow.services.shop import built_in_kinds
from shopflow.texts import gettext, lazy, ngettext

Result = Measurement | IntegrityTest
"""Result that can stop the work on a head until someone decides."""


class Standing(StrEnum):
    """State of a requested measurement."""

    WITHIN = "within limits"
    OUTSIDE = "outside limits"
    NO_LIMIT = "no limit given"
    MISSING = "not measured"


@dataclass(frozen=True)
class Check:
    """A kind of measurement a step asks for, its latest at each place, and where it is missing."""

    kind: MeasurementKind
    figures: tuple[Measurement, ...]
    standing: Standing
    wanted: int = 1
    """At how many places it is asked for."""

    missing: tuple[str, ...] = ()
    """Labels of the places it is missing at, or how many more are wanted."""

    @property
    def done(self) -> int:
        """At how many of the places asked for it is measured."""
        return self.wanted - len(self.missing)

    @property
    def in_words(self) -> str:
        """Missing places, as "installed height (cylinder 3, front exhaust spring)"."""
        if self.wanted == 1:
            return self.kind.name[:1].lower() + self.kind.name[1:]
        named = list(self.missing[:MOST_NAMED])
        more = len(self.missing) - MOST_NAMED
        if more > 0:
            named.append(ngettext("{num} more", "{num} more", more))
        return f"{self.kind.name[:1].lower()}{self.kind.name[1:]} ({'; '.join(named)})"


MOST_NAMED = 4
"""Missing places named before the rest are counted."""


def asked_for(operation: Operation, kinds: Mapping[str, MeasurementKind]) -> list[Check]:
    """Measurements that a step's kind asks for, out of these kinds by code, each with its state."""
    measurements = latest(operation.measurements)
    return [
        _check(operation, kinds[code], [row for row in measurements if row.kind.code == code])
        for code in operation.kind.asks_for
        if code in kinds
    ]


def missing(operation: Operation, kinds: Mapping[str, MeasurementKind]) -> list[str]:
    """Measurements that a step asks for and lacks at some place, in words."""
    return [check.in_words for check in asked_for(operation, kinds) if check.missing]


def latest(measurements: Iterable[Measurement]) -> list[Measurement]:
    """The last measurement of each kind and location; a corrected one counts as it is now."""
    by_location: dict[tuple[object, ...], Measurement] = {}
    for row in measurements:
        location = (
            row.kind,
            row.cylinder,
            row.side,
            row.valve,
            row.place,
            row.datum,
            row.when,
        )
        by_location[*location, row.distance.si if row.distance else None] = row
    return list(by_location.values())


def outside(operation: Operation) -> list[Measurement]:
    """An operation's measurements outside their limits that stop the routing.

    One taken before the work stops nothing: it is what the work is there to fix.
    """
    return [
        row
        for row in latest(operation.measurements)
        if row.verdict is Verdict.OUTSIDE and row.when is When.AFTER
    ]


def latest_tests(tests: Iterable[IntegrityTest]) -> list[IntegrityTest]:
    """The last test of each kind and place: a head tested again counts as it is now."""
    return list({row.place_key: row for row in tests}.values())


def failed(operation: Operation) -> list[IntegrityTest]:
    """A step's tests that stop the head: failed or repairable, and not passed since."""
    return [row for row in latest_tests(operation.integrity_tests) if row.stops]


def undecided(operation: Operation) -> list[Result]:
    """Results outside limits or failed that have no decision, or await the customer's answer."""
    results: list[Result] = [*outside(operation), *failed(operation)]
    return [row for row in results if row.decision is None or row.decision.choice is Choice.ASK]


def in_words(results: Iterable[Result]) -> str:
    """Describe results that stop the work, as "Guide clearance is outside its limits, Pressure test
    failed"."""
    return ", ".join(
        dict.fromkeys(
            str(STOPPED_BY[row.verdict]).format(test=row.title)
            if isinstance(row, IntegrityTest)
            else gettext("{measurement} is outside its limits", measurement=row.title)
            for row in results
        )
    )


STOPPED_BY = {
    IntegrityVerdict.FAILED: lazy("{test} failed"),
    IntegrityVerdict.REPAIRABLE: lazy("{test} needs a repair"),
}


def stopping(steps: Iterable[Operation]) -> Operation | None:
    """The operation of a head whose results stop its routing until someone decides."""
    return next((step for step in steps if undecided(step)), None)


def question(operation: Operation) -> Decision | None:
    """The last decision to ask the customer about this operation that has no answer yet."""
    decisions = [row.decision for row in undecided(operation) if row.decision is not None]
    return decisions[-1] if decisions else None


def asks_customer(steps: Iterable[Operation]) -> bool:
    """True where a head with these steps awaits the customer's answer."""
    return any(question(step) is not None for step in steps)


def _check(operation: Operation, kind: MeasurementKind, figures: list[Measurement]) -> Check:
    verdicts = {row.verdict for row in figures}
    if not figures:
        standing = Standing.MISSING
    elif Verdict.OUTSIDE in verdicts:
        standing = Standing.OUTSIDE
    else:
        standing = Standing.WITHIN if Verdict.WITHIN in verdicts else Standing.NO_LIMIT
    wanted, lacking = _places(operation, kind, figures)
    return Check(kind, tuple(figures), standing, wanted, lacking)


def _places(
    operation: Operation, kind: MeasurementKind, figures: list[Measurement]
) -> tuple[int, tuple[str, ...]]:
    """At how many places a kind is asked for, and those it is missing at."""
    where = operation.kind.asks_where.get(kind.code, "")
    plan = operation.job_head.head.plan if where else None
    if plan is None:
        # Without a layout nothing says how many places there are.
        return 1, () if figures else (kind.code,)
    if where.isdecimal():
        wanted = min(int(where), len(plan.places(kind.place_kind)))
        places = len({(row.cylinder, row.side, row.valve) for row in figures})
        more = max(0, wanted - places)
        return wanted, tuple([ngettext("{num} more", "{num} more", more)] * more)
    if where == built_in_kinds.EACH_CYLINDER:
        cylinders = {row.cylinder for row in figures}
        lacking = [
            gettext("cylinder {number}", number=number)
            for number in plan.cylinders
            if number not in cylinders
        ]
        return len(plan.cylinders), tuple(lacking)
    if where == built_in_kinds.EACH_PORT and kind.place_kind in OF_A_VALVE:
        # One valve of a port stands for it.
        places_wanted = plan.places(PlaceKind.PORT)
        ports = (
            plan.place_at(PlaceKind.PORT, (row.cylinder, row.side, row.valve))
            or plan.place_at(PlaceKind.PORT, (row.cylinder, row.side, None))
            for row in figures
        )
        keys = {port.key for port in ports if port is not None}
    else:
        places_wanted = plan.places(kind.place_kind)
        keys = {place.key for row in figures if (place := row.place_in(plan)) is not None}
    return len(places_wanted), tuple(p.label for p in places_wanted if p.key not in keys)
