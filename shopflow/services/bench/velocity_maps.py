"""Velocity maps of a head: what a probe read at each place of a section, and what it comes to."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal, InvalidOperation
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.calc.reduction import Reduction
from shopflow.calc.traverse import (
    ARMS,
    RINGS,
    ProbedAir,
    Traverse,
    TraversedSection,
    flow_at,
    traverse,
)
from shopflow.documents.velocity_map import MapOfSection, VelocityMapSheet
from shopflow.errors import FieldError, NotFoundError, ValidationError
from shopflow.models import BenchSession, Outline, VelocityMap, Visit
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.bench import sessions
from shopflow.services.bench.test_names import session_name
from shopflow.services.paperwork import facts
from shopflow.services.paperwork.language import spoken_for
from shopflow.texts import gettext, translated
from shopflow.units import to_si

UNITS = ("inH2O", "mmH2O", "mbar", "hPa", "Pa", "kPa")
"""Units a probe's gauge reads in."""

MOST_PLACES = max(ARMS) * max(RINGS)

_ONE = Decimal(1)
SPECIFICATION: fields.Specification = {
    "session_id": fields.count(required=True),
    "lift": fields.quantity("length", required=True, above=0.0),
    "place": fields.text(),
    "outline": fields.one_of(Outline),
    "width": fields.quantity("length", required=True, above=0.0),
    "height": fields.quantity("length", above=0.0),
    "arms": fields.among(*map(str, ARMS)),
    "rings": fields.among(*map(str, RINGS)),
    "pressure_unit": fields.among(*UNITS),
    "coefficient": fields.decimal(),
    "notes": fields.words(),
}


@dataclass(frozen=True)
class Mapped:
    """A velocity map with its results, and the flow the bench had at that lift."""

    row: VelocityMap
    section: TraversedSection
    results: Traverse
    bench_flow: float
    """At the test pressure and the density of the room, m3/s."""

    test: Reduction

    @property
    def energy(self) -> float:
        """Kinetic energy of the bench's flow through the section as if even, W."""
        velocity = self.bench_flow / self.section.area
        return 0.5 * self.test.air_density * self.bench_flow * velocity**2


def of_visit(db: Session, visit: Visit) -> list[VelocityMap]:
    """Every map of a head on a job, the latest first."""
    query = (
        select(VelocityMap)
        .join(VelocityMap.session)
        .where(BenchSession.job_head_id == visit.id)
        .order_by(VelocityMap.id.desc())
    )
    return list(db.scalars(query))


def get(db: Session, key: int) -> VelocityMap:
    """The map with this key. Raises NotFoundError."""
    row = db.get(VelocityMap, key)
    if row is None:
        raise NotFoundError(gettext("this velocity map does not exist"))
    return row


def add(db: Session, by: Actor, visit: Visit, values: Mapping[str, Any]) -> VelocityMap:
    """Save a map as typed, with `readings` a line a ring. Raises ValidationError."""
    typed = dict(values)
    readings = str(typed.pop("readings", None) or "")
    clean = fields.require(SPECIFICATION, typed, *SPECIFICATION)
    key = clean.pop("session_id")
    test = next((row for row in visit.sessions if row.id == key), None)
    if test is None:
        raise ValidationError(
            [FieldError("session_id", gettext("choose a flow test of this head"))]
        )
    clean["height"] = clean["height"] or clean["width"]
    clean["coefficient"] = clean["coefficient"] or _ONE
    clean["arms"], clean["rings"] = int(clean["arms"]), int(clean["rings"])
    middle, rings = read(readings, clean["arms"], clean["rings"])
    row = VelocityMap(
        session=test,
        middle=middle,
        pressures=rings,
        entered_at=by.at,
        person_id=by.person_id,
        **clean,
    )
    _check(row)
    db.add(row)
    db.flush()
    note = gettext("at {lift} of lift", lift=row.lift)
    audit_log.record(db, by, row, "added", job=visit.job, note=note)
    return row


def sheet(db: Session, row: VelocityMap, at: datetime) -> VelocityMapSheet:
    """A map as page and paper show it."""
    visit, worked_out = row.session.job_head, mapped(row)
    with spoken_for(db, visit.job.customer):
        return VelocityMapSheet(
            shop=facts.letterhead(db),
            display=facts.display(db, visit.job.customer),
            head=facts.identity(visit),
            job=visit.job.number,
            content=MapOfSection(
                section=worked_out.section,
                results=worked_out.results,
                bench_flow=worked_out.bench_flow,
                energy=worked_out.energy,
                test=session_name(row.session),
                side=row.session.side,
                lift=row.lift.text,
                place=row.place,
                size=f"{translated(row.outline)}, {row.width} × {row.height}",
                notes=row.notes,
            ),
            made_at=at,
        )


def discard(db: Session, by: Actor, row: VelocityMap) -> None:
    """Discard a map that was entered by mistake; the log keeps that it was there."""
    note = gettext("at {lift} of lift", lift=row.lift)
    audit_log.record(db, by, row, "discarded", job=row.session.job_head.job, note=note)
    db.delete(row)
    db.flush()


def read(text: str, arms: int, rings: int) -> tuple[Decimal, list[list[str]]]:
    """The middle's reading, and those of each ring.

    Raises ValidationError at `readings`.
    """
    lines = [line.replace(";", " ").split() for line in text.splitlines() if line.strip()]
    if len(lines) != rings + 1:
        raise _at_readings(
            gettext(
                "enter {lines} lines: the middle, then each ring outwards; there are {count}",
                lines=rings + 1,
                count=len(lines),
            )
        )
    for number, cells in enumerate(lines, start=1):
        wanted = 1 if number == 1 else arms
        if len(cells) != wanted:
            raise _at_readings(
                gettext(
                    "line {line}: enter {wanted} readings with a space between; there are {count}",
                    line=number,
                    wanted=wanted,
                    count=len(cells),
                )
            )
        for cell in cells:
            _number(cell, number)
    return _number(lines[0][0], 1), [
        [str(_number(cell, 1)) for cell in cells] for cells in lines[1:]
    ]


def mapped(row: VelocityMap) -> Mapped:
    """A map with its results."""
    test = sessions.reduction(row.session)
    section = TraversedSection(
        row.outline is Outline.RECTANGLE, row.width.si, row.height.si, row.arms, row.rings
    )
    middle, rings = _pressures(row)
    results = traverse(section, middle, rings, _air(row, test))
    return Mapped(row, section, results, flow_at(test, row.lift.si), test)


def _air(row: VelocityMap, test: Reduction) -> ProbedAir:
    """Air that comes from rest in the room, or, blown out, leaves at the room's pressure."""
    room = test.test.barometer
    is_intake = test.test.side == "intake"
    return ProbedAir(
        stagnation_pressure=room if is_intake else None,
        static_pressure=None if is_intake else room,
        temperature=test.test.temperature,
        room_density=test.air_density,
        coefficient=float(row.coefficient),
    )


def _pressures(row: VelocityMap) -> tuple[float, list[list[float]]]:
    """Of the middle, and by ring and arm, Pa."""
    rings = [[to_si(float(cell), row.pressure_unit) for cell in ring] for ring in row.pressures]
    return to_si(float(row.middle), row.pressure_unit), rings


def _check(row: VelocityMap) -> None:
    """Raise ValidationError where the map cannot be worked out."""
    test = sessions.reduction(row.session)
    faults = list(_out_of_range(row, test.lifts.tolist()))
    if not any(float(cell) for ring in row.pressures for cell in ring):
        faults.append(FieldError("readings", gettext("every reading is 0: nothing flows")))
    if faults:
        raise ValidationError(faults)
    try:
        mapped(row)
    except ValueError as error:
        raise _at_readings(str(error)) from None


def _out_of_range(row: VelocityMap, lifts: Sequence[float]) -> Iterator[FieldError]:
    if not lifts[0] * 0.999 <= row.lift.si <= lifts[-1] * 1.001:
        first, last = (
            f"{row.session.lifts[place].lift_typed} {row.session.lift_unit}" for place in (0, -1)
        )
        message = gettext(
            "'{lift}' was not tested: enter {first} to {last}",
            lift=row.lift,
            first=first,
            last=last,
        )
        yield FieldError("lift", message)
    if not 1e-3 <= row.width.si <= 0.5:
        yield FieldError("width", gettext("enter 1 mm to 500 mm"))
    if not 1e-3 <= row.height.si <= 0.5:
        yield FieldError("height", gettext("enter 1 mm to 500 mm"))
    if not Decimal("0.5") <= row.coefficient <= Decimal("1.5"):
        yield FieldError("coefficient", gettext("enter 0.5 to 1.5"))


def _number(cell: str, line: int) -> Decimal:
    """A reading, 0 or more. Raises ValidationError."""
    try:
        value = Decimal(cell.replace(",", "."))
    except InvalidOperation:
        value = Decimal("NaN")
    if not (value.is_finite() and 0 <= value <= 1_000_000 and len(cell) <= 20):
        raise _at_readings(
            gettext("line {line}: '{cell}' is no reading; enter 0 or more", line=line, cell=cell)
        )
    return value


def _at_readings(message: str) -> ValidationError:
    return ValidationError([FieldError("readings", message)])
