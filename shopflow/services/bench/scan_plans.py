"""Sections of a scan: planned against what is on record, then saved as if they were typed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy.orm import Session

from shopflow import documents
from shopflow.calc.center_line import CenterLine
from shopflow.calc.scan_sections import ScanSection, cut_along
from shopflow.errors import FieldError, ValidationError
from shopflow.files.scans import Scan
from shopflow.models import Datum, JobFile, Measurement, Operation, PlaceKind, Visit, When
from shopflow.services import fields
from shopflow.services.actor import Actor
from shopflow.services.bench import port_surveys, sections
from shopflow.services.bench.center_lines import Points, at_line, read_points
from shopflow.services.bench.port_surveys import Port
from shopflow.services.bench.section_checks import PLACE, SHAPE, faults_of
from shopflow.services.measuring import measurements, placing, plausibility
from shopflow.texts import gettext
from shopflow.units import UnitSystem, to_si

UNITS = ("mm", "in")
"""Units a scan may be in: its file does not tell."""

MOST_SECTIONS = 40
NEAR = 1e-4
"""Distances no further apart are one place, m: 0.984 in is 25 mm rounded as a shop shows it."""

SMALLEST, LARGEST = 5e-3, 1.0
"""Extents of any port's scan, m; outside, the unit is wrong."""


@dataclass(frozen=True)
class Cutting:
    """Cut of a scan: its unit, the center line in it, and distances in SI."""

    unit: str
    points: Points
    first: float
    step: float


@dataclass(frozen=True)
class PlannedSection:
    """A section to be saved: its values as typed, and why it is not, if so."""

    distance: float
    row: Mapping[str, str]
    section: ScanSection | None
    is_on_record: bool = False
    """True where the port has a section at this distance already, which stays."""

    @property
    def is_new(self) -> bool:
        """True where saving records it."""
        return self.section is not None and not self.is_on_record


@dataclass(frozen=True)
class Plan:
    """Sections of a scan, of which the new ones are saved."""

    port: Port
    when: When
    length: float
    """Of the center line, m."""

    sections: tuple[PlannedSection, ...]

    @property
    def rows(self) -> list[Mapping[str, str]]:
        """The rows to save, as `sections.record` takes them."""
        return [planned.row for planned in self.sections if planned.is_new]

    @property
    def along(self) -> documents.AlongPort:
        """The sections as a port of their own, to be drawn."""
        cut = [planned.section for planned in self.sections if planned.section is not None]
        least = min(section.area for section in cut)
        points = tuple(
            documents.SectionPoint(
                section.distance, section.area, section.area / least, None, None, None,
                width=section.width, height=section.height, perimeter=section.perimeter,
                short_side_radius=section.short_side_radius,
            )
            for section in cut
        )  # fmt: skip
        survey = documents.PortSurvey(self.when.value, points, None, least)
        return documents.AlongPort(
            self.port.side, str(self.port.cylinder or ""), self.port.datum.value,
            self.port.datum is Datum.SEAT, (survey,),
        )  # fmt: skip


CUTTING: fields.Specification = {
    "unit": fields.among(*UNITS),
    "first": fields.quantity("length", required=True, above=measurements.NEVER_BELOW),
    "step": fields.quantity("length", required=True, above=0.0),
}


def read_cutting(values: Mapping[str, Any]) -> Cutting:
    """Cut of a scan, from the fields of its form. Raises ValidationError."""
    faults: list[FieldError] = []
    clean: dict[str, Any] = {}
    points: Points = ()
    try:
        clean = fields.read(CUTTING, {name: values.get(name) for name in CUTTING})
    except ValidationError as error:
        faults += error.faults
    try:
        points = read_points(str(values.get("center_line") or ""))
    except ValidationError as error:
        faults += error.faults
    if faults:
        raise ValidationError(faults)
    return Cutting(clean["unit"], points, clean["first"].si, clean["step"].si)


def plan(
    db: Session, visit: Visit, scan: Scan, values: Mapping[str, Any], units: UnitSystem
) -> Plan:
    """Cut a scan into sections and compare them with what is on record; nothing is saved.

    `values` has `side`, `cylinder`, `when` and `datum` of the port and, as `read_cutting` takes
    them, how to cut. Raises ValidationError at the fields.
    """
    place = fields.read(PLACE, {name: values.get(name) for name in PLACE})
    if not place["side"]:
        raise ValidationError([FieldError("side", gettext("choose the side of the port"))])
    placing.read_place(PlaceKind.SECTION, visit.head, place)
    cutting = read_cutting(values)
    scale = to_si(1.0, cutting.unit)
    _check_extent(scan, scale, cutting.unit)
    line = CenterLine([[scale * value for value in point] for point in cutting.points])
    distances = _distances(cutting, line.length, units)
    cut = cut_along(scale * scan.vertices, scan.faces, line, distances)
    if not any(cut):
        raise at_line(
            gettext(
                "no plane across this line meets a closed outline around it: check the points and "
                "the unit, and close holes in the scan"
            )
        )
    port = Port(place["side"], place["cylinder"], place["datum"] or Datum.SEAT)
    on_record = port_surveys.recorded_distances(visit, port, place["when"])
    planned = Plan(
        port,
        place["when"],
        line.length,
        tuple(
            _planned(db, distance, section, on_record, units)
            for distance, section in zip(distances, cut, strict=True)
        ),
    )
    _check_plausible(db, values, planned)
    return planned


def save(
    db: Session,
    by: Actor,
    visit: Visit,
    row: JobFile,
    planned: Plan,
    operation: Operation | None = None,
) -> list[Measurement]:
    """Record the new sections of a scan. Raises ValidationError where there is none."""
    if not planned.rows:
        raise ValidationError(
            [
                FieldError(
                    "first",
                    gettext(
                        "every section here is on record already: strike those out, or choose "
                        "other distances"
                    ),
                )
            ]
        )
    shared = {
        "side": planned.port.side,
        "cylinder": planned.port.cylinder,
        "when": planned.when.value,
        "datum": planned.port.datum.value,
        "notes": gettext("From scan {name}", name=row.name),
    }
    return sections.record(db, by, visit, shared, planned.rows, operation)


def _check_extent(scan: Scan, scale: float, unit: str) -> None:
    extent = scale * max(scan.extents)
    size = f"{extent:.3g}"
    if not SMALLEST <= extent <= LARGEST:
        raise ValidationError(
            [
                FieldError(
                    "unit",
                    gettext(
                        "in {unit} the scan is {extent} m across, and no port is: choose the other "
                        "unit, or save the scan in mm",
                        unit=unit,
                        extent=size,
                    ),
                )
            ]
        )


def _distances(cutting: Cutting, length: float, units: UnitSystem) -> list[float]:
    """Distances of the sections along a center line of this length."""
    if cutting.first > length:
        raise ValidationError(
            [
                FieldError(
                    "first",
                    gettext(
                        "beyond the center line, which is {length} long: enter less",
                        length=units.text(length, "lift"),
                    ),
                )
            ]
        )
    count = int((length - cutting.first) / cutting.step * (1.0 + 1e-9)) + 1
    if count > MOST_SECTIONS:
        least = (length - cutting.first) / (MOST_SECTIONS - 1)
        raise ValidationError(
            [
                FieldError(
                    "step",
                    gettext(
                        "gives {count} sections, and at most {most} are cut at once: enter {least} "
                        "or more",
                        count=count,
                        most=MOST_SECTIONS,
                        least=units.text(least, "lift"),
                    ),
                )
            ]
        )
    return [cutting.first + number * cutting.step for number in range(count)]


def _planned(
    db: Session,
    distance: float,
    section: ScanSection | None,
    on_record: frozenset[float],
    units: UnitSystem,
) -> PlannedSection:
    """A section with its values as they would be typed, rounded as the shop shows them."""
    text = _typed(distance, "lift", units)
    is_on_record = any(abs(distance - other) <= NEAR for other in on_record)
    if section is None:
        return PlannedSection(distance, {}, None, is_on_record)
    row = {
        "distance": text,
        "area": _typed(section.area, "port area", units),
        **{
            name: _typed(value, "lift", units)
            for name in SHAPE
            if (value := getattr(section, name)) is not None
        },
    }
    radius = measurements.kind_by_code(db, SHAPE["short_side_radius"])
    if section.short_side_radius is not None and not plausibility.is_within(
        radius, section.short_side_radius
    ):
        # So slight a bend has no short side to speak of.
        del row["short_side_radius"]
    return PlannedSection(distance, row, section, is_on_record)


def _typed(si: float, kind: str, units: UnitSystem) -> str:
    return f"{units.number(si, kind)} {units.unit(kind)}"


def _check_plausible(db: Session, values: Mapping[str, Any], planned: Plan) -> None:
    """Refuse sections that no port has, at the unit that makes them so."""
    rows = [item.row for item in planned.sections if item.section is not None]
    shared = {name: values.get(name) for name in PLACE}
    faults = faults_of(db, shared, rows)
    own = [fault for fault in faults if not fault.key.startswith("rows-")]
    if own:
        raise ValidationError(own)
    for fault in faults:
        row = rows[int(fault.key.split("-")[1])]
        words = gettext("at {distance}: {fault}", distance=row["distance"], fault=fault.message)
        raise ValidationError([FieldError("unit", words)])
