"""The kinds of operation and of measurement every shop starts with; a shop adds its own.

Prices are no part of it: each shop sets its own, in its own currency.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import Any, NamedTuple

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.models import IntegrityKind, MeasurementKind, Operation, OperationKind
from shopflow.services.shop.measurement_catalogue import KINDS, POSITIONS
from shopflow.texts import lazy

EVERY = "every"
EACH_CYLINDER = "each cylinder"
EACH_PORT = "each port"
"""Places a step may ask for, beside a number of them."""


class _Step(NamedTuple):
    code: str
    name: Any
    """Written into the records of a shop in its language."""

    cuts_metal: bool
    cautions: tuple[str, ...]
    asks_for: tuple[str, ...]
    minutes: int
    tests_by: IntegrityKind | None = None


SEARCH_WORDS = {
    "teardown": ("teardown", "disassembly"),
    "inspection": ("inspection", "inspection and measuring"),
    "weld-repair": ("welding",),
    "guide": ("guides fitted and sized", "guide work"),
    "seat-insert": ("seat inserts fitted",),
    "seat-cut": ("seats cut", "valve job"),
    "port-work": ("porting",),
    "resurface": ("resurfacing", "surfacing"),
    "assembly": ("assembly",),
}
"""Other words of the trade for a step, by its code: searches know it by these too."""


OPERATIONS = (
    _Step("teardown", lazy("Tear down"), False, ("springs",), ("installed height",), 45),
    _Step("hot-wash", lazy("Hot-wash"), False, ("hot", "chemicals"), (), 40),
    _Step("bead-blast", lazy("Bead-blast"), False, ("dust", "pressure"), (), 30),
    _Step(
        "inspection",
        lazy("Inspect and measure"),
        False,
        (),
        ("guide clearance", "stem diameter", "deck flatness", "valve head diameter"),
        40,
    ),
    _Step(
        "crack-check",
        lazy("Check for cracks"),
        False,
        ("chemicals",),
        (),
        30,
        IntegrityKind.CRACK,
    ),
    _Step(
        "pressure-test",
        lazy("Pressure-test"),
        False,
        ("pressure", "hot"),
        (),
        40,
        IntegrityKind.PRESSURE,
    ),
    _Step("weld-repair", lazy("Repair by welding"), True, ("hot", "fumes"), (), 120),
    _Step(
        "guide",
        lazy("Fit and size guides"),
        True,
        ("dust", "hot"),
        ("guide clearance",),
        90,
    ),
    _Step(
        "seat-insert",
        lazy("Fit seat inserts"),
        True,
        ("hot", "dust"),
        ("seat interference",),
        120,
    ),
    _Step(
        "seat-cut",
        lazy("Cut seats"),
        True,
        ("rotating", "dust"),
        ("seat angle", "seat width", "seat run-out", "throat diameter"),
        90,
    ),
    _Step("valve-grind", lazy("Grind valves"), True, ("rotating", "dust"), ("valve margin",), 50),
    _Step(
        "throat-cut",
        lazy("Cut throats to size"),
        True,
        ("rotating", "dust"),
        ("throat diameter",),
        60,
    ),
    _Step(
        "port-work",
        lazy("Port"),
        True,
        ("rotating", "dust"),
        ("port area", "port volume"),
        300,
    ),
    _Step(
        "chamber-work",
        lazy("Rework chambers"),
        True,
        ("rotating", "dust"),
        ("chamber volume",),
        120,
    ),
    _Step(
        "resurface",
        lazy("Resurface"),
        True,
        ("rotating", "lifting"),
        ("deck flatness", "head thickness"),
        60,
    ),
    _Step(
        "vacuum-test",
        lazy("Vacuum-test"),
        False,
        ("vacuum",),
        (),
        15,
        IntegrityKind.VACUUM,
    ),
    _Step("leak-test", lazy("Leak-test"), False, ("chemicals",), (), 20, IntegrityKind.LEAK),
    _Step("flow-test", lazy("Flow-test"), False, ("bench",), (), 60),
    _Step(
        "assembly",
        lazy("Assemble"),
        False,
        ("springs",),
        ("installed height", "seat load", "chamber volume"),
        90,
    ),
)

STEP_CODES = tuple(step.code for step in OPERATIONS)
"""Codes of the steps that every shop begins with."""

FOR_STARTERS = {
    "assembly": {"installed height": EVERY},
    "inspection": {"guide clearance": EVERY},
}
"""Places that a new shop's steps ask for, where one is too few."""

_OPERATION_KINDS = select(OperationKind).where(OperationKind.active).order_by(OperationKind.name)
_MEASUREMENT_KINDS = (
    select(MeasurementKind)
    .where(MeasurementKind.active)
    .order_by(MeasurementKind.position, MeasurementKind.name)
)


def ensure(db: Session) -> None:
    """Add whichever built-in kinds are not there yet; touch nothing the shop has changed."""
    operations = set(db.scalars(select(OperationKind.code)))
    for step in OPERATIONS:
        if step.code not in operations:
            db.add(
                OperationKind(
                    code=step.code,
                    name=str(step.name),
                    cuts_metal=step.cuts_metal,
                    cautions=list(step.cautions),
                    asks_for=list(step.asks_for),
                    asks_where=dict(FOR_STARTERS.get(step.code, {})),
                    usual_minutes=step.minutes,
                    tests_by=step.tests_by,
                )
            )
    figures = set(db.scalars(select(MeasurementKind.code)))
    for kind in KINDS:
        if kind.code not in figures:
            db.add(kind.row(POSITIONS[kind.code]))
    db.flush()


def operation_kinds(db: Session) -> list[OperationKind]:
    """Every kind of operation in use, by name."""
    return list(db.scalars(_OPERATION_KINDS))


def figures_by_code(
    db: Session, codes: Collection[str] | None = None
) -> dict[str, MeasurementKind]:
    """Kinds of measurement in use by their code: every one, or those of these codes."""
    if codes is None:
        return {kind.code: kind for kind in measurement_kinds(db)}
    if not codes:
        return {}
    query = _MEASUREMENT_KINDS.where(MeasurementKind.code.in_(codes))
    return {kind.code: kind for kind in db.scalars(query)}


def asked_by(db: Session, steps: Iterable[Operation]) -> dict[str, MeasurementKind]:
    """Kinds of measurement in use that steps ask for, by their code."""
    return figures_by_code(db, sorted({code for step in steps for code in step.kind.asks_for}))


def measurement_kinds(db: Session) -> list[MeasurementKind]:
    """Every kind of measurement in use, in the shop's order."""
    return list(db.scalars(_MEASUREMENT_KINDS))
