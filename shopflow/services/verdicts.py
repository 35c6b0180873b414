"""What an operation's figures say: what was asked for, within or outside its limits, or missing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from shopflow.models import (
    Choice,
    Measurement,
    MeasurementKind,
    Operation,
    Verdict,
    When,
)


class Standing(StrEnum):
    """How a figure that was asked for stands."""

    WITHIN = "within limits"
    OUTSIDE = "outside limits"
    NO_LIMIT = "no limit given"
    MISSING = "not measured"


@dataclass(frozen=True)
class Asked:
    """A kind of figure an operation asks for, and its latest at each place."""

    kind: MeasurementKind
    figures: tuple[Measurement, ...]
    standing: Standing


def asked_for(operation: Operation, kinds: Mapping[str, MeasurementKind]) -> list[Asked]:
    """What an operation's kind asks for, out of these kinds by code, each with where it stands."""
    found = latest(operation.measurements)
    return [
        _asked(kinds[code], [row for row in found if row.kind.code == code])
        for code in operation.kind.asks_for
        if code in kinds
    ]


def missing(operation: Operation) -> list[str]:
    """Codes of the figures an operation asks for and has none of."""
    written = {row.kind.code for row in operation.measurements}
    return [code for code in operation.kind.asks_for if code not in written]


def latest(measurements: Iterable[Measurement]) -> list[Measurement]:
    """The last figure of each kind and place; one measured again counts as it is now."""
    found: dict[tuple[object, ...], Measurement] = {}
    for row in measurements:
        place = (row.kind, row.cylinder, row.side, row.place, row.datum, row.when)
        found[*place, row.distance.si if row.distance else None] = row
    return list(found.values())


def outside(operation: Operation) -> list[Measurement]:
    """An operation's figures outside their limits that stop the routing.

    One taken before the work stops nothing: it is what the work is there to mend.
    """
    return [
        row
        for row in latest(operation.measurements)
        if row.verdict is Verdict.OUTSIDE and row.when is When.AFTER
    ]


def undecided(operation: Operation) -> list[Measurement]:
    """Those of them that nobody has decided on yet, or that wait for the customer's word."""
    return [
        row
        for row in outside(operation)
        if row.decision is None or row.decision.choice is Choice.ASK
    ]


def stopping(steps: Iterable[Operation]) -> Operation | None:
    """The operation of a head whose figures stop its routing until someone decides."""
    return next((step for step in steps if undecided(step)), None)


def asks_customer(steps: Iterable[Operation]) -> bool:
    """Whether a head with these steps waits for the customer's word on a figure."""
    return any(
        row.decision is not None and row.decision.choice is Choice.ASK
        for step in steps
        for row in undecided(step)
    )


def _asked(kind: MeasurementKind, figures: list[Measurement]) -> Asked:
    verdicts = {row.verdict for row in figures}
    if not figures:
        standing = Standing.MISSING
    elif Verdict.OUTSIDE in verdicts:
        standing = Standing.OUTSIDE
    else:
        standing = Standing.WITHIN if Verdict.WITHIN in verdicts else Standing.NO_LIMIT
    return Asked(kind, tuple(figures), standing)
