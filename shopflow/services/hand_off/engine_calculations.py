"""Sums for the engine a head goes on: each figure with its working and its limits."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from shopflow.calc import compression, machindex, turbo
from shopflow.calc.air import speed_of_sound
from shopflow.calc.cam_gain import WORTH_SAYING, cam_mean
from shopflow.calc.cycle import Engine
from shopflow.calc.demand import demand, draw_trials
from shopflow.calc.monte_carlo import Range
from shopflow.documents import Figure
from shopflow.errors import FieldError, ValidationError
from shopflow.models import BenchSession, Cam, Visit
from shopflow.services import fields
from shopflow.services.bench.sessions import reduction
from shopflow.services.engine import cams
from shopflow.texts import gettext, lazy
from shopflow.units import SI, Quantity, UnitSystem, to_si

STEEP, FALLEN = 0.5, 0.6
"""Mach indices between which filling falls."""

SOURCE = lazy("JSME dictionary of mechanical engineering, entry 11:1002813")
FALLS = lazy("filling falls steeply above about 0.5 ({source})", source=SOURCE)
AIR = fields.quantity("pressure", required=True, above=0.0)
LEAST_AIR, MOST_AIR = 45_000.0, 110_000.0
"""Pa: between these lies the air pressure wherever engines run."""

COMPRESSION: fields.Specification = {
    "bore": fields.quantity("length", required=True, above=0.0),
    "stroke": fields.quantity("length", required=True, above=0.0),
    "chamber": fields.quantity("volume", required=True, above=0.0),
    "gasket_bore": fields.quantity("length", required=True, above=0.0),
    "gasket_thickness": fields.quantity("length", required=True, above=0.0),
    "deck": fields.quantity("length"),
    "dish": fields.quantity("volume"),
    "removed": fields.quantity("length", above=-1e-12),
    "footprint": fields.quantity("area", above=0.0),
}
MACH: fields.Specification = {
    "bore": fields.quantity("length", required=True, above=0.0),
    "stroke": fields.quantity("length", required=True, above=0.0),
    "valve_diameter": fields.quantity("length", required=True, above=0.0),
    "valves": fields.count(least=1, required=True),
    "rpm": fields.count(least=1, required=True),
    "coefficient": fields.decimal(),
    "temperature": fields.quantity("temperature", required=True, above=0.0),
}
GAS: fields.Specification = {
    "air_pressure": AIR,
    "boost": fields.quantity("pressure", required=True, above=-1e-9),
    "back_pressure": fields.quantity("pressure", required=True, above=-1e-9),
    "intake_temperature": fields.quantity("temperature", required=True, above=0.0),
    "exhaust_temperature": fields.quantity("temperature", required=True, above=0.0),
    "fuel_to_air": fields.decimal(),
}
EXPANSION: fields.Specification = {
    "air_pressure": AIR,
    "mass_flow": fields.quantity("mass flow", required=True, above=0.0),
    "temperature": fields.quantity("temperature", required=True, above=0.0),
    "inlet_pressure": fields.quantity("pressure", required=True, above=-1e-9),
    "outlet_pressure": fields.quantity("pressure", required=True, above=-1e-9),
}
TURBINE: fields.Specification = {
    **EXPANSION,
    "efficiency": fields.quantity("ratio", required=True, above=0.0),
}


def compression_ratio(values: Mapping[str, Any]) -> list[Figure]:
    """Compression ratio from bore, stroke and what is left above the piston.

    Raises ValidationError at the fields of `COMPRESSION`.
    """
    inputs = read_inputs(COMPRESSION, values)
    swept = compression.cylinder_volume(inputs["bore"], inputs["stroke"])
    gasket = compression.cylinder_volume(inputs["gasket_bore"], inputs["gasket_thickness"])
    deck = compression.cylinder_volume(inputs["bore"], inputs["deck"] or 0.0)
    dish = inputs["dish"] or 0.0
    left = float(compression.clearance_volume(inputs["chamber"], gasket, deck, dish))
    if left <= 0.0:
        message = gettext("this deck and dish leave no volume above the piston: check both")
        raise ValidationError([FieldError("chamber", message)])
    parts = gettext(
        "chamber {inputs} + gasket {gasket} + deck {deck} + dish {dish}",
        inputs=_cc(inputs["chamber"]),
        gasket=_cc(gasket),
        deck=_cc(deck),
        dish=_cc(dish),
    )
    figures = [
        Figure(gettext("Swept volume"), _cc(swept), gettext("π/4 × bore² × stroke")),
        Figure(gettext("Clearance volume"), _cc(left), parts),
        Figure(
            gettext("Compression ratio"),
            _ratio(swept, left),
            gettext("(swept + clearance) ÷ clearance, geometric"),
        ),
    ]
    if inputs["removed"] and inputs["footprint"]:
        cut = float(compression.volume_removed(inputs["footprint"], inputs["removed"]))
        if cut >= left:
            raise ValidationError(
                [
                    FieldError(
                        "removed",
                        gettext("this is more than the volume above the piston: enter less"),
                    )
                ]
            )
        working = gettext(
            "less {cut}: footprint × depth; the footprint changes with depth, so "
            "measure the chamber again",
            cut=_cc(cut),
        )
        figures.append(Figure(gettext("Ratio after the cut"), _ratio(swept, left - cut), working))
    return figures


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
            f"{_two_digits(limit)} rpm",
            gettext("rev limit × 0.5 ÷ index"),
        ),
    ]


def mach_index_of(
    visit: Visit, row: BenchSession, cam: Cam | None = None, units: UnitSystem = SI
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
        return _through_cam(visit, row, cam, units), []
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


def _through_cam(visit: Visit, row: BenchSession, cam: Cam, units: UnitSystem) -> list[Figure]:
    """The index by the mean effective area over a cam, with the engine type's bore and stroke."""
    engine, rpm = visit.head.engine_type, visit.job.rev_limit_rpm
    if engine.bore is None or engine.stroke is None or rpm is None:
        raise ValueError(gettext("the engine's sizes and its rev limit must be known"))
    document = cams.document(cam)
    test, motion = reduction(row), document.intake.motion("intake")
    mean = cam_mean(test, motion)
    air = document.intake_temperature or row.temperature
    asked = demand(
        draw_trials(test, motion, Range(air.si, air.si), Range(STEEP, FALLEN)),
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
                "S/a × (π/4 × bore²) ÷ mean area, 19 times in 20 by the flow test; {falls}",
                falls=FALLS,
            ),
        ),
        Figure(
            gettext("Speed where filling falls"),
            f"{_ends(_two_digits(60.0 * speed.low), _two_digits(60.0 * speed.high))} rpm",
            gettext("rev limit × {low} to {high} ÷ index, 19 times in 20", low=STEEP, high=FALLEN),
        ),
    ]


def _ends(low: str, high: str) -> str:
    return low if low == high else gettext("{low} to {high}", low=low, high=high)


def gas_volumes(values: Mapping[str, Any]) -> list[Figure]:
    """Exhaust gas volume against intake volume. Raises ValidationError at the fields of `GAS`."""
    inputs = read_inputs(GAS, values)
    intake, exhaust = (inputs[name] + barometer(inputs) for name in ("boost", "back_pressure"))
    fuel = float(inputs["fuel_to_air"] or 0)
    ratio = float(
        turbo.exhaust_to_intake_volume(
            fuel, inputs["exhaust_temperature"], inputs["intake_temperature"], intake, exhaust
        )
    )
    hot, cold = inputs["exhaust_temperature"], inputs["intake_temperature"]
    working = gettext(
        "(1 + {fuel:g}) × {hot:.0f} K/{cold:.0f} K × {intake:.1f} "
        "kPa/{exhaust:.1f} kPa absolute, ideal gas, steady flow, no leaks. "
        "'About five' is common practice, no source",
        fuel=fuel,
        hot=hot,
        cold=cold,
        intake=intake / 1000.0,
        exhaust=exhaust / 1000.0,
    )
    return [Figure(gettext("Exhaust volume over intake volume"), f"{ratio:.1f}", working)]


def turbine_power(values: Mapping[str, Any]) -> list[Figure]:
    """Power a turbine could take from the gas.

    Raises ValidationError at the fields of `TURBINE`.
    """
    inputs = read_inputs(TURBINE, values)
    ideal = _ideal_power(inputs)
    if inputs["efficiency"] > 1.0:
        raise ValidationError([FieldError("efficiency", gettext("enter at most 100 %"))])
    real = ideal * inputs["efficiency"]
    working = gettext("× {inputs:.0%}; steady flow", inputs=inputs["efficiency"])
    return [
        _isentropic(inputs, ideal),
        Figure(gettext("At this efficiency"), power(real), working),
    ]


def isentropic_power(values: Mapping[str, Any]) -> list[Figure]:
    """Power of an ideal turbine. Raises ValidationError at the fields of `EXPANSION`."""
    inputs = read_inputs(EXPANSION, values)
    return [_isentropic(inputs, _ideal_power(inputs))]


def _ideal_power(inputs: Mapping[str, Any]) -> float:
    inlet, outlet = (
        inputs[name] + barometer(inputs) for name in ("inlet_pressure", "outlet_pressure")
    )
    if outlet > inlet:
        raise ValidationError(
            [
                FieldError(
                    "outlet_pressure",
                    gettext("this is above the pressure before the turbine: enter less"),
                )
            ]
        )
    return float(turbo.turbine_power(inputs["mass_flow"], inputs["temperature"], outlet / inlet))


def _isentropic(inputs: Mapping[str, Any], ideal: float) -> Figure:
    air = inputs["air_pressure"]
    inlet, outlet = ((inputs[name] + air) / 1e3 for name in ("inlet_pressure", "outlet_pressure"))
    working = gettext(
        "m cp T (1 − (p4/p3)^((γ−1)/γ)) at {inputs:.0f} g/s, {inputs_2:.0f} K, "
        "{inlet:.1f} to {outlet:.1f} kPa absolute; an ideal turbine in steady "
        "flow",
        inputs=inputs["mass_flow"] * 1000.0,
        inputs_2=inputs["temperature"],
        inlet=inlet,
        outlet=outlet,
    )
    return Figure(gettext("Isentropic power"), power(ideal), working)


def barometer(inputs: Mapping[str, Any]) -> float:
    """The air pressure that gauge pressures are taken from. Raises ValidationError."""
    air = float(inputs["air_pressure"])
    if LEAST_AIR <= air <= MOST_AIR:
        return air
    message = gettext(
        "{air:.4g} kPa is not the air's pressure: enter what a barometer there "
        "reads, absolute, from 45 to 110 kPa",
        air=air / 1000.0,
    )
    raise ValidationError([FieldError("air_pressure", message)])


def read_inputs(specification: fields.Specification, values: Mapping[str, Any]) -> dict[str, Any]:
    """Every field in SI; none for what was left empty. Raises ValidationError at the fields."""
    clean = fields.require(specification, values, *specification)
    return {
        name: value.si if isinstance(value, Quantity) else _plain(value)
        for name, value in clean.items()
    }


def _plain(value: Any) -> Any:
    return float(value) if isinstance(value, Decimal) else value


def _cc(volume: float) -> str:
    return f"{float(volume) / to_si(1.0, 'cm3'):.1f} cm³"


def _ratio(swept: float, left: float) -> str:
    return f"{float(compression.compression_ratio(swept, left)):.2f} : 1"


def power(watts: float) -> str:
    """Power in kW and hp with two digits: specific heat and its ratio are taken as constant."""
    return f"{_two_digits(watts / 1e3)} kW ({_two_digits(watts / to_si(1.0, 'hp'))} hp)"


def _two_digits(value: float) -> str:
    """A number with two digits that count, as "35", "5700" or "4.6"."""
    return f"{float(f'{value:.1e}'):.15g}"
