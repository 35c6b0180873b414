"""Limit checks of a step's measurements: requested, within or outside limits, or missing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from shopflow.models import (
    Choice,
    Decision,
    IntegrityTest,
    Measurement,
    MeasurementKind,
    Operation,
    Verdict,
    When,
)

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
    """A kind of figure an operation asks for, and its latest at each place."""

    kind: MeasurementKind
    figures: tuple[Measurement, ...]
    standing: Standing


def asked_for(operation: Operation, kinds: Mapping[str, MeasurementKind]) -> list[Check]:
    """Measurements that a step's kind asks for, out of these kinds by code, each with its state."""
    measurements = latest(operation.measurements)
    return [
        _check(kinds[code], [row for row in measurements if row.kind.code == code])
        for code in operation.kind.asks_for
        if code in kinds
    ]


def missing(operation: Operation) -> list[str]:
    """Codes of the figures an operation asks for and has none of."""
    written = {row.kind.code for row in operation.measurements}
    return [code for code in operation.kind.asks_for if code not in written]


def latest(measurements: Iterable[Measurement]) -> list[Measurement]:
    """The last measurement of each kind and location; a corrected one counts as it is now."""
    by_location: dict[tuple[object, ...], Measurement] = {}
    for row in measurements:
        location = (row.kind, row.cylinder, row.side, row.place, row.datum, row.when)
        by_location[*location, row.distance.si if row.distance else None] = row
    return list(by_location.values())


def outside(operation: Operation) -> list[Measurement]:
    """An operation's measurements outside their limits that stop the routing.

    One taken before the work stops nothing: it is what the work is there to mend.
    """
    return [
        row
        for row in latest(operation.measurements)
        if row.verdict is Verdict.OUTSIDE and row.when is When.AFTER
    ]


def latest_tests(tests: Iterable[IntegrityTest]) -> list[IntegrityTest]:
    """The last test of each kind and place: a head tested again counts as it is now."""
    return list({(row.kind, row.place.casefold()): row for row in tests}.values())


def failed(operation: Operation) -> list[IntegrityTest]:
    """An operation's tests that the head failed and has not passed since."""
    return [row for row in latest_tests(operation.integrity_tests) if not row.passed]


def undecided(operation: Operation) -> list[Result]:
    """Results outside limits or failed that have no decision, or await the customer's answer."""
    results: list[Result] = [*outside(operation), *failed(operation)]
    return [row for row in results if row.decision is None or row.decision.choice is Choice.ASK]


def in_words(results: Iterable[Result]) -> str:
    """Describe results that stop the work, as "Guide clearance is outside its limits, Pressure test
    failed"."""
    return ", ".join(
        dict.fromkeys(
            f"{row.title} failed"
            if isinstance(row, IntegrityTest)
            else f"{row.title} is outside its limits"
            for row in results
        )
    )


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


def _check(kind: MeasurementKind, figures: list[Measurement]) -> Check:
    verdicts = {row.verdict for row in figures}
    if not figures:
        standing = Standing.MISSING
    elif Verdict.OUTSIDE in verdicts:
        standing = Standing.OUTSIDE
    else:
        standing = Standing.WITHIN if Verdict.WITHIN in verdicts else Standing.NO_LIMIT
    return Check(kind, tuple(figures), standing)
