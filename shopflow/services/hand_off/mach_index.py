"""Mean inlet Mach index: of sizes typed in, and of a head's engine by its intake test and cam."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy.orm import Session

from shopflow.calc import machindex
from shopflow.calc.air import speed_of_sound
from shopflow.calc.cam_gain import WORTH_SAYING, cam_mean
from shopflow.calc.cycle import Engine
from shopflow.calc.demand import demand
from shopflow.documents import Figure
from shopflow.errors import FieldError, ValidationError
from shopflow.models import BenchSession, Cam, Visit
from shopflow.services import fields
from shopflow.services.bench.sessions import reduction
from shopflow.services.engine import cams, engine_view
from shopflow.services.hand_off.engine_calculations import read_inputs, two_digits
from shopflow.texts import gettext, lazy
from shopflow.units import SI, UnitSystem

STEEP = 0.5
"""Mach index from which filling falls."""

SOURCE = lazy("JSME dictionary of mechanical engineering, entry 11:1002813")
FALLS = lazy("filling falls steeply above about 0.5 ({source})", source=SOURCE)

MACH: fields.Specification = {
    "bore": fields.quantity("length", required=True, above=0.0),
    "stroke": fields.quantity("length", required=True, above=0.0),
    "valve_diameter": fields.quantity("length", required=True, above=0.0),
    "valves": fields.count(least=1, required=True),
    "rpm": fields.count(least=1, required=True),
    "coefficient": fields.decimal(),
    "temperature": fields.quantity("temperature", required=True, above=0.0),
}


def mach_index(values: Mapping[str, Any]) -> list[Figure]:
    """Mean inlet Mach index at the rev limit. Raises ValidationError at the fields of `MACH`."""
    inputs = read_inputs(MACH, values)
    coefficient = float(inputs["coefficient"] or 0)
    if not 0.0 < coefficient <= 1.0:
        raise ValidationError(
            [FieldError("coefficient", gettext("enter a lift-averaged coefficient from 0 to 1"))]
        )
    speed = inputs["rpm"] / 60.0
    piston = float(machindex.mean_piston_speed(inputs["stroke"], speed))
    sound = float(speed_of_sound(inputs["temperature"]))
    index = float(
        machindex.mach_index(
            inputs["bore"], inputs["valve_diameter"], inputs["valves"], piston, coefficient, sound
        )
    )
    working = gettext("bore²/(n D²) × S/(C a); {falls}", falls=FALLS)
    return _index_figures(piston, sound, index, inputs["rpm"], working)


def _index_figures(
    piston: float, sound: float, index: float, rpm: float, working: str
) -> list[Figure]:
    """The index with what goes into it, and the speed at which filling begins to fall."""
    limit = float(machindex.speed_at_index(STEEP, rpm, index))
    return [
        Figure(
            gettext("Mean piston speed"),
            f"{piston:.1f} m/s",
            gettext("2 × stroke × revolutions a second"),
        ),
        Figure(
            gettext("Speed of sound"),
            f"{sound:.0f} m/s",
            gettext("√(1.4 × 287.05 × T), ideal dry air"),
        ),
        Figure(gettext("Mean inlet Mach index"), machindex.index_text(index), working),
        Figure(
            gettext("Speed at index {steep}", steep=STEEP),
            f"{two_digits(limit)} rpm",
            gettext("rev limit × 0.5 ÷ index"),
        ),
    ]


def mach_index_of(
    db: Session,
    visit: Visit,
    row: BenchSession,
    cam: Cam | None = None,
    units: UnitSystem = SI,
) -> tuple[list[Figure], list[str]]:
    """Mean inlet Mach index of a head's engine at its job's rev limit, from an intake test.

    Through its cam where one is known; else by the mean over the lifts tested. Gives the figures
    and, where there are none, what is missing.
    """
    engine = visit.head.engine_type
    values: dict[str, Any] = {
        "bore": engine.bore,
        "stroke": engine.stroke,
        "rpm": visit.job.rev_limit_rpm,
    }
    names = {
        "bore": gettext("the engine type's bore"),
        "stroke": gettext("its stroke"),
        "rpm": gettext("the job's rev limit"),
    }
    missing = [names[name] for name, value in values.items() if not value]
    if row.side != "intake":
        missing.append(gettext("a test of the intake"))
    if missing:
        return [], missing
    if cam is not None:
        return _through_cam(db, visit, row, cam, units), []
    reduced = reduction(row)
    # The coefficient goes with the area, and so does its mean.
    coefficient = reduced.curve.mean * float(reduced.cd_head[0] / reduced.effective_area[0])
    figures = mach_index(
        {
            **values,
            "valve_diameter": row.head_diameter,
            "valves": row.valve_count,
            "coefficient": f"{coefficient:.6f}",
            "temperature": row.temperature,
        }
    )
    working = gettext(
        "mean over the lifts tested, {lift_typed} to {lift_typed_2} {lift_unit}; "
        "no cam is known, whose lifts would weigh otherwise",
        lift_typed=row.lifts[0].lift_typed,
        lift_typed_2=row.lifts[-1].lift_typed,
        lift_unit=row.lift_unit,
    )
    return [
        Figure(gettext("Coefficient on head area"), f"{coefficient:.2f}", working),
        *figures,
    ], []


def _through_cam(
    db: Session, visit: Visit, row: BenchSession, cam: Cam, units: UnitSystem
) -> list[Figure]:
    """The index by the mean effective area over a cam, with the engine type's bore and stroke."""
    engine, rpm = visit.head.engine_type, visit.job.rev_limit_rpm
    if engine.bore is None or engine.stroke is None or rpm is None:
        raise ValueError(gettext("the engine's sizes and its rev limit must be known"))
    document = cams.document(cam)
    mean = cam_mean(reduction(row), document.intake.motion("intake"))
    # As the page of the cam draws them, so that both state one interval.
    asked = demand(
        engine_view.intake_trials(db, visit, document, row),
        Engine(engine.bore.si, engine.stroke.si, rpm / 60.0),
    )
    area = units.text(mean.area, "port area")
    if mean.expanded_uncertainty is not None:
        area = f"{units.number(mean.area, 'port area')} ± " + units.text(
            mean.expanded_uncertainty, "port area"
        )
    over = (
        gettext(
            "mean over the time the cam holds the intake open: {cam}; {percent:.0f} % of the time "
            "is above the last lift tested",
            cam=cam.name,
            percent=100 * mean.share_beyond_test,
        )
        if mean.share_beyond_test >= WORTH_SAYING
        else gettext("mean over the time the cam holds the intake open: {cam}", cam=cam.name)
    )
    speed = asked.filling_speed
    return [
        Figure(gettext("Mean effective area"), area, over),
        Figure(
            gettext("Mean piston speed"),
            f"{machindex.mean_piston_speed(engine.stroke.si, rpm / 60.0):.1f} m/s",
            gettext("2 × stroke × revolutions a second"),
        ),
        Figure(
            gettext("Mean inlet Mach index"),
            _ends(machindex.index_text(asked.index.low), machindex.index_text(asked.index.high)),
            gettext(
                "S/a × (π/4 × bore²) ÷ mean area, 19 times in 20 by the flow test and the engine’s "
                "ranges; {falls}",
                falls=FALLS,
            ),
        ),
        Figure(
            gettext("Speed where filling falls"),
            f"{_ends(two_digits(60.0 * speed.low), two_digits(60.0 * speed.high))} rpm",
            gettext("rev limit × limit of the index ÷ index, 19 times in 20"),
        ),
    ]


def _ends(low: str, high: str) -> str:
    return low if low == high else gettext("{low} to {high}", low=low, high=high)
