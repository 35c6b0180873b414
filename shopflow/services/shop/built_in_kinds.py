"""The kinds of operation and of measurement every shop starts with; a shop adds its own.

Prices are no part of it: each shop sets its own, in its own currency.
"""

from __future__ import annotations

from typing import NamedTuple

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.models import IntegrityKind, MeasurementKind, OperationKind


class _Step(NamedTuple):
    code: str
    name: str
    cuts_metal: bool
    cautions: tuple[str, ...]
    asks_for: tuple[str, ...]
    minutes: int
    tests_by: IntegrityKind | None = None


class _Figure(NamedTuple):
    code: str
    name: str
    dimension: str
    us_unit: str
    si_unit: str


OPERATIONS = (
    _Step("teardown", "Teardown", False, ("springs",), ("installed height",), 45),
    _Step("hot-wash", "Hot wash", False, ("hot", "chemicals"), (), 40),
    _Step("bead-blast", "Bead blast", False, ("dust", "pressure"), (), 30),
    _Step(
        "inspection",
        "Inspection and measuring",
        False,
        (),
        ("guide clearance", "stem diameter", "deck flatness", "valve head diameter"),
        40,
    ),
    _Step(
        "crack-check",
        "Crack check",
        False,
        ("chemicals",),
        (),
        30,
        IntegrityKind.CRACK,
    ),
    _Step(
        "pressure-test",
        "Pressure test",
        False,
        ("pressure", "hot"),
        (),
        40,
        IntegrityKind.PRESSURE,
    ),
    _Step("weld-repair", "Weld repair", True, ("hot", "fumes"), (), 120),
    _Step(
        "guide",
        "Guides fitted and sized",
        True,
        ("dust", "hot"),
        ("guide clearance",),
        90,
    ),
    _Step(
        "seat-insert",
        "Seat inserts fitted",
        True,
        ("hot", "dust"),
        ("seat interference",),
        120,
    ),
    _Step(
        "seat-cut",
        "Seat cut",
        True,
        ("rotating", "dust"),
        ("seat angle", "seat width", "seat run-out", "throat diameter"),
        90,
    ),
    _Step("valve-grind", "Valve grind", True, ("rotating", "dust"), ("valve margin",), 50),
    _Step("throat-cut", "Throat cut", True, ("rotating", "dust"), ("throat diameter",), 60),
    _Step(
        "port-work",
        "Port work",
        True,
        ("rotating", "dust"),
        ("port area", "port volume"),
        300,
    ),
    _Step(
        "chamber-work",
        "Chamber work",
        True,
        ("rotating", "dust"),
        ("chamber volume",),
        120,
    ),
    _Step(
        "resurface",
        "Resurface",
        True,
        ("rotating", "lifting"),
        ("deck flatness", "head thickness"),
        60,
    ),
    _Step(
        "vacuum-test",
        "Vacuum test",
        False,
        ("vacuum",),
        (),
        15,
        IntegrityKind.VACUUM,
    ),
    _Step("leak-test", "Leak test", False, ("chemicals",), (), 20, IntegrityKind.LEAK),
    _Step("flow-test", "Flow test", False, ("bench",), (), 60),
    _Step(
        "assembly",
        "Assembly",
        False,
        ("springs",),
        ("installed height", "seat load", "chamber volume"),
        90,
    ),
)

MEASUREMENTS = (
    _Figure("guide clearance", "Guide clearance", "length", "in", "mm"),
    _Figure("stem diameter", "Stem diameter", "length", "in", "mm"),
    _Figure("seat angle", "Seat angle", "angle", "deg", "deg"),
    _Figure("seat width", "Seat width on the cone face", "length", "in", "mm"),
    _Figure("seat run-out", "Seat run-out", "length", "in", "mm"),
    _Figure("seat interference", "Seat insert interference", "length", "in", "mm"),
    _Figure("valve head diameter", "Valve head diameter", "length", "in", "mm"),
    _Figure("valve margin", "Valve margin", "length", "in", "mm"),
    _Figure("throat diameter", "Throat diameter", "length", "in", "mm"),
    _Figure("port area", "Port area", "area", "in2", "mm2"),
    _Figure("port volume", "Port volume", "volume", "cm3", "cm3"),
    _Figure("chamber volume", "Chamber volume", "volume", "cm3", "cm3"),
    _Figure("deck flatness", "Deck flatness", "length", "in", "mm"),
    _Figure("head thickness", "Head thickness", "length", "in", "mm"),
    _Figure("installed height", "Installed height of the spring", "length", "in", "mm"),
    _Figure("seat load", "Load on the seat", "force", "lbf", "N"),
)

BOUNDS: dict[str, tuple[str, str]] = {
    "guide clearance": ("0 mm", "1 mm"),
    "stem diameter": ("2 mm", "25 mm"),
    "seat angle": ("10 deg", "80 deg"),
    "seat width": ("0 mm", "15 mm"),
    "seat run-out": ("0 mm", "2 mm"),
    "seat interference": ("0 mm", "1 mm"),
    "valve head diameter": ("8 mm", "150 mm"),
    "valve margin": ("0 mm", "15 mm"),
    "throat diameter": ("6 mm", "150 mm"),
    "port area": ("10 mm2", "20000 mm2"),
    "port volume": ("1 cm3", "3000 cm3"),
    "chamber volume": ("1 cm3", "1500 cm3"),
    "deck flatness": ("0 mm", "5 mm"),
    "head thickness": ("5 mm", "500 mm"),
    "installed height": ("5 mm", "200 mm"),
    "seat load": ("0 N", "10000 N"),
}
"""Bounds of a measurement of a built-in kind on any head, from a small motorcycle's to a marine
diesel's: outside, a digit or a unit is wrong. Common practice, no source."""


_OPERATION_KINDS = select(OperationKind).where(OperationKind.active).order_by(OperationKind.name)
_MEASUREMENT_KINDS = (
    select(MeasurementKind).where(MeasurementKind.active).order_by(MeasurementKind.name)
)


def ensure(db: Session) -> None:
    """Add whichever built-in kinds are not there yet; touch nothing the shop has changed."""
    operations = set(db.scalars(select(OperationKind.code)))
    for step in OPERATIONS:
        if step.code not in operations:
            db.add(
                OperationKind(
                    code=step.code,
                    name=step.name,
                    cuts_metal=step.cuts_metal,
                    cautions=list(step.cautions),
                    asks_for=list(step.asks_for),
                    usual_minutes=step.minutes,
                    tests_by=step.tests_by,
                )
            )
    figures = set(db.scalars(select(MeasurementKind.code)))
    for figure in MEASUREMENTS:
        if figure.code not in figures:
            db.add(MeasurementKind(**figure._asdict()))
    db.flush()


def operation_kinds(db: Session) -> list[OperationKind]:
    """Every kind of operation in use, by name."""
    return list(db.scalars(_OPERATION_KINDS))


def figures_by_code(db: Session) -> dict[str, MeasurementKind]:
    """Every kind of measurement in use, by its code."""
    return {kind.code: kind for kind in measurement_kinds(db)}


def measurement_kinds(db: Session) -> list[MeasurementKind]:
    """Every kind of measurement in use, by name."""
    return list(db.scalars(_MEASUREMENT_KINDS))
