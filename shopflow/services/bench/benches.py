"""Flow benches, their ranges and calibrations."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session, selectinload

from shopflow.calc.control import ControlChart, control_chart
from shopflow.calc.metering import ElementKind
from shopflow.errors import FieldError, NotFoundError, ValidationError
from shopflow.models import Bench, BenchCheck, BenchRange, Calibration, ReadingKind
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.bench import calibration_points
from shopflow.testfile.meter import OWN_ELEMENT, STANDARD_ELEMENT
from shopflow.texts import day, gettext
from shopflow.units import Quantity, UnitError, parse


def _factor(value: Any) -> Any:
    number = fields.decimal()(1 if value in (None, "") else value)
    if not number:
        raise ValueError(gettext("must be more than 0"))
    return number


def _made_on(value: Any) -> Any:
    day = fields.day()(value)
    if day is None:
        raise ValueError(gettext("required: enter a value"))
    return day


def _element(value: Any) -> str:
    if value in (None, "", *ElementKind):
        return value or ""
    raise ValueError(gettext("one of {elementkind}", elementkind=", ".join(ElementKind)))


BENCH: fields.Specification = {
    "name": fields.text(required=True, most=100),
    "reading": fields.one_of(ReadingKind),
    "notes": fields.words(),
    "active": fields.flag(),
}
RANGE: fields.Specification = {
    "name": fields.text(required=True),
    "full_scale": fields.quantity("volume flow", above=0.0),
    "element_kind": _element,
    "element_diameter": fields.quantity("length", above=0.0),
    "pipe_diameter": fields.quantity("length", above=0.0),
    "element_coefficient": fields.decimal(),
    "element_area": fields.quantity("area", above=0.0),
}
RECORD: fields.Specification = {
    "division": fields.text(most=60),
    "gauge_mark": fields.text(),
    "gauge_accuracy": fields.quantity("ratio", above=0.0),
}
DIVISIONS = {
    ReadingKind.VOLUME_FLOW: "volume flow",
    ReadingKind.PERCENT_OF_RANGE: "ratio",
    ReadingKind.PRESSURE_DIFFERENCE: "pressure",
}
"""Dimension of a scale's division, by what the scale reads."""

CALIBRATION: fields.Specification = {
    "identifier": fields.text(required=True, most=60),
    "reference": fields.text(),
    "certificate_number": fields.text(),
    "factor": _factor,
    "expanded_uncertainty": fields.quantity("ratio", required=True, above=-1e-12),
    "scale_density": fields.quantity("density", above=0.0),
    "made_on": _made_on,
    "due_on": fields.day(),
    "notes": fields.words(),
}
CHECK: fields.Specification = {
    "plate": fields.text(required=True),
    "expected": fields.quantity("volume flow", required=True, above=0.0),
    "indicated": fields.text(required=True, most=60),
    "notes": fields.words(),
}


_IN_USE = (
    select(Bench)
    .where(Bench.active)
    .order_by(Bench.name)
    .options(
        selectinload(Bench.ranges).options(
            selectinload(BenchRange.calibrations), selectinload(BenchRange.checks)
        )
    )
)


def list_all(db: Session) -> list[Bench]:
    """Every bench, by name."""
    return list(db.scalars(select(Bench).order_by(Bench.name)))


def get(db: Session, bench_id: int) -> Bench:
    """The bench with this key. Raises NotFoundError."""
    bench = db.get(Bench, bench_id)
    if bench is None:
        raise NotFoundError(gettext("this bench does not exist"))
    return bench


def by_name(db: Session, name: str) -> Bench | None:
    """The bench of this name, or none."""
    return db.scalar(select(Bench).where(Bench.name == name))


def get_range(db: Session, range_id: int) -> BenchRange:
    """The range with this key. Raises NotFoundError."""
    bench_range = db.get(BenchRange, range_id)
    if bench_range is None:
        raise NotFoundError(gettext("this range does not exist"))
    return bench_range


def get_calibration(db: Session, calibration_id: int) -> Calibration:
    """The calibration with this key. Raises NotFoundError."""
    calibration = db.get(Calibration, calibration_id)
    if calibration is None:
        raise NotFoundError(gettext("this calibration does not exist"))
    return calibration


def create(db: Session, by: Actor, values: Mapping[str, Any]) -> Bench:
    """Add a bench. Raises ValidationError."""
    clean = fields.require(BENCH, values, "name")
    if by_name(db, clean["name"]) is not None:
        raise ValidationError(
            [FieldError("name", gettext("there is a bench of this name already"))]
        )
    bench = Bench(**clean)
    db.add(bench)
    audit_log.record(db, by, bench, "added")
    return bench


def change(db: Session, by: Actor, bench: Bench, values: Mapping[str, Any]) -> Bench:
    """Change a bench, or take it out of use. Raises ValidationError."""
    clean = fields.read(BENCH, values)
    same_name = by_name(db, clean["name"]) if "name" in clean else None
    if same_name is not None and same_name is not bench:
        raise ValidationError(
            [FieldError("name", gettext("there is a bench of this name already"))]
        )
    audit_log.change(db, by, bench, clean)
    return bench


def add_range(db: Session, by: Actor, bench: Bench, values: Mapping[str, Any]) -> BenchRange:
    """Add a range to a bench. Raises ValidationError."""
    clean = fields.require(RANGE, values, "name")
    if any(existing.name == clean["name"] for existing in bench.ranges):
        raise ValidationError(
            [FieldError("name", gettext("the bench has a range of this name already"))]
        )
    if bench.reading is ReadingKind.PERCENT_OF_RANGE and clean.get("full_scale") is None:
        raise ValidationError([FieldError("full_scale", gettext("the flow that 100 % stands for"))])
    if bench.reading is ReadingKind.PRESSURE_DIFFERENCE:
        _whole_element(clean)
    added = BenchRange(bench=bench, **clean)
    db.add(added)
    audit_log.record(db, by, added, "added")
    return added


def change_record(
    db: Session, by: Actor, bench_range: BenchRange, values: Mapping[str, Any]
) -> BenchRange:
    """Change what a range's new tests start with. Raises ValidationError."""
    clean = fields.read(RECORD, values)
    if "division" in clean:
        clean["division"] = _division(bench_range.bench, clean["division"])
    audit_log.change(db, by, bench_range, clean)
    return bench_range


def _division(bench: Bench, text: str) -> Quantity | None:
    """A division of the scale in what the bench reads. Raises ValidationError."""
    dimension = DIVISIONS[bench.reading]
    try:
        division: Quantity | None = fields.quantity(dimension, above=0.0)(text)
    except ValueError as error:
        raise ValidationError([FieldError("division", str(error))]) from None
    return division


def _whole_element(clean: Mapping[str, Any]) -> None:
    """Refuse an element that a flow cannot be calculated from. Raises ValidationError."""
    kind = clean.get("element_kind")
    if not kind:
        raise ValidationError(
            [FieldError("element_kind", gettext("what the pressure difference is read across"))]
        )
    needed = OWN_ELEMENT if kind == ElementKind.OWN else STANDARD_ELEMENT
    faults = [
        FieldError(name, gettext("required: enter a value"))
        for name in needed
        if not clean.get(name)
    ]
    bore, pipe = clean.get("element_diameter"), clean.get("pipe_diameter")
    if bore and pipe and bore.si >= pipe.si:
        faults.append(FieldError("element_diameter", gettext("must be smaller than the pipe")))
    if faults:
        raise ValidationError(faults)


def element_as_typed(bench_range: BenchRange) -> dict[str, str]:
    """A range's metering element by the keys of the session file."""
    names = (*STANDARD_ELEMENT, *OWN_ELEMENT)
    sizes_stored = {name: getattr(bench_range, name) for name in names}
    sizes = {name: str(value) for name, value in sizes_stored.items() if value is not None}
    return {"element": bench_range.element_kind, **sizes}


def calibrate(
    db: Session, by: Actor, bench_range: BenchRange, values: Mapping[str, Any]
) -> Calibration:
    """Record a calibration of a range. Raises ValidationError."""
    typed = {name: values[name] for name in calibration_points.TYPED if name in values}
    entered = {name: value for name, value in values.items() if name not in typed}
    clean = _with_points(bench_range, entered, typed)
    if any(item.identifier == clean["identifier"] for item in bench_range.calibrations):
        raise ValidationError(
            [FieldError("identifier", gettext("this range has a calibration of that mark"))]
        )
    if clean.get("due_on") and clean["due_on"] < clean["made_on"]:
        raise ValidationError([FieldError("due_on", gettext("it falls due before it was made"))])
    calibration = Calibration(**clean)
    bench_range.calibrations.append(calibration)
    bench_range.calibrations.sort(key=lambda item: item.made_on)
    audit_log.record(db, by, calibration, "calibrated")
    return calibration


def _with_points(
    bench_range: BenchRange, entered: Mapping[str, Any], typed: Mapping[str, Any]
) -> dict[str, Any]:
    """A calibration's values; one by points need not state what they share. Raises
    ValidationError with the faults of both."""
    faults: list[FieldError] = []
    points: dict[str, Any] = {}
    try:
        points = calibration_points.read_points(bench_range, typed)
    except ValidationError as error:
        faults += error.faults
    if typed.get("model") and not entered.get("expanded_uncertainty"):
        entered = {**entered, "expanded_uncertainty": "0 %"}
    try:
        clean = fields.require(
            CALIBRATION, entered, "identifier", "expanded_uncertainty", "made_on", "factor"
        )
        if typed.get("model") and clean["factor"] != 1:
            faults.append(
                FieldError("factor", gettext("leave it empty: the points take its place"))
            )
    except ValidationError as error:
        faults += error.faults
    if faults:
        raise ValidationError(faults)
    return clean | points


def check(db: Session, by: Actor, bench_range: BenchRange, values: Mapping[str, Any]) -> BenchCheck:
    """Record what a range showed on a plate of known flow.

    `indicated` is typed as the scale reads: a flow, or a percentage of the range. Raises
    ValidationError.
    """
    clean = fields.require(CHECK, values, "plate", "expected", "indicated")
    clean["indicated"] = _indicated(bench_range, clean["indicated"])
    in_force = bench_range.calibration_on(by.at.date())
    row = BenchCheck(
        at=by.at,
        person_id=by.person_id,
        factor=calibration_points.factor_at(in_force, clean["indicated"].si)
        if in_force
        else Decimal("1.0"),
        **clean,
    )
    bench_range.checks.append(row)
    note = gettext(
        "{flow} on {plate}, {ratio:.4f} of the plate's flow",
        flow=row.indicated,
        plate=row.plate,
        ratio=row.ratio,
    )
    audit_log.record(db, by, row, "checked", note=note)
    return row


@dataclass(frozen=True)
class Drift:
    """The checks of a range on one plate under one calibration."""

    plate: str
    checks: tuple[BenchCheck, ...]
    calibration: Calibration | None
    chart: ControlChart | None
    """None where the checks are too few."""

    is_current: bool
    """True where these are the latest checks on that plate."""


def drifts(bench_range: BenchRange) -> list[Drift]:
    """Control charts of a range's checks, plate by plate, each against the baseline since its
    calibration, the current ones first.

    A calibration begins a new baseline: checks under an earlier one are no measure of it.
    """
    groups: dict[tuple[str, Calibration | None], list[BenchCheck]] = {}
    latest: dict[str, Calibration | None] = {}
    for row in bench_range.checks:
        latest[row.plate] = calibration = bench_range.calibration_on(row.at.date())
        groups.setdefault((row.plate, calibration), []).append(row)
    charts = [
        Drift(
            plate,
            tuple(rows),
            calibration,
            control_chart([row.ratio for row in rows], max(map(_last_digit, rows))),
            is_current=latest[plate] is calibration,
        )
        for (plate, calibration), rows in groups.items()
    ]
    plates = list(latest)
    return sorted(charts, key=lambda drift: (not drift.is_current, plates.index(drift.plate)))


def _last_digit(row: BenchCheck) -> float:
    """One step of the last digit that was typed, as a part of the plate's flow."""
    typed = Decimal(row.indicated.number)
    return row.ratio * 10.0 ** int(typed.as_tuple().exponent) / float(typed)


def concerns(db: Session, today: date) -> list[str]:
    """Concerns about the benches in use that the floor should know, in words."""
    texts = []
    for bench in db.scalars(_IN_USE):
        for bench_range in bench.ranges:
            named = gettext("{bench}, range {range}", bench=bench.name, range=bench_range.name)
            in_force = bench_range.calibration_on(today)
            if in_force is not None and in_force.due_on and in_force.is_overdue(today):
                texts.append(
                    gettext(
                        "{bench}: its calibration fell due {day}",
                        bench=named,
                        day=day(in_force.due_on),
                    )
                )
            texts += [
                gettext(
                    "{bench}: its last check on {plate} is {fault}",
                    bench=named,
                    plate=drift.plate,
                    fault=drift.chart.latest_fault,
                )
                for drift in drifts(bench_range)
                if drift.is_current and drift.chart is not None and drift.chart.latest_fault
            ]
    return texts


def _indicated(bench_range: BenchRange, text: str) -> Quantity:
    """A reading as the bench's scale shows it, in m3/s beside the text."""
    try:
        if bench_range.bench.reading is ReadingKind.PERCENT_OF_RANGE:
            if bench_range.full_scale is None:
                raise UnitError(gettext("the range has no flow at 100 %"))
            share = parse(text, "ratio")
            indicated = Quantity(text, share.si * bench_range.full_scale.si)
        else:
            indicated = parse(text, "volume flow")
    except UnitError as error:
        raise ValidationError([FieldError("indicated", str(error))]) from None
    if indicated.si <= 0.0:
        raise ValidationError(
            [FieldError("indicated", gettext("'{text}' must be more than 0", text=text))]
        )
    return indicated
