"""The calculator of a turbocharger: the back pressure needed for the boost asked."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from shopflow.calc import turbo, turbo_balance
from shopflow.calc.turbo_balance import Balance, Turbocharger
from shopflow.documents import Figure
from shopflow.errors import FieldError, ValidationError
from shopflow.services import fields
from shopflow.services.hand_off.engine_calculations import AIR, barometer, power, read_inputs
from shopflow.texts import gettext, lazy
from shopflow.units import SI, UnitSystem

EFFICIENCIES = ("compressor", "turbine", "mechanical")
MOST_AIR = 100.0
"""kg/s, more than the largest of engines takes: a slip of the pen."""

MOST_FUEL = 0.5
"""Fuel over air by mass that no engine burns."""

BALANCE: fields.Specification = {
    "air_pressure": AIR,
    "boost": fields.quantity("pressure", required=True, above=0.0),
    "air_flow": fields.quantity("mass flow", required=True, above=0.0),
    "inlet_temperature": fields.quantity("temperature", required=True, above=0.0),
    "charge_temperature": fields.quantity("temperature", above=0.0),
    "turbine_temperature": fields.quantity("temperature", required=True, above=0.0),
    "outlet_pressure": fields.quantity("pressure", required=True, above=-1e-9),
    "fuel_to_air": fields.decimal(),
    **dict.fromkeys(EFFICIENCIES, fields.quantity("ratio", required=True, above=0.0)),
}
MOST_EXPANSION = 10.0
"""Pressure before over after a turbine that no single stage comes near; common practice, no
source."""

SOURCE = lazy("Heywood (1988), section 6.8, from memory; NASA Glenn Research Center")
LIMITS = (
    lazy(
        "Steady flow of ideal gases, constant specific heats, no heat lost. The engine's exhaust "
        "comes in pulses, which give a turbine more than this."
    ),
    lazy(
        "All of the exhaust goes through the turbine. Where a wastegate opens, the pressure needed "
        "before the turbine is higher than this for the same boost."
    ),
    lazy(
        "Each efficiency is the one at the point the turbocharger runs at, from its maps. Whether "
        "a turbine of that size passes the gas is not asked here."
    ),
    lazy(
        "Not a boost to run: knock, heat, fuel and the strength of the engine set that, and the "
        "engine builder decides. Check the seat load of the valves at this boost and this back "
        "pressure before the engine is run."
    ),
)
"""Limits of the balance, with the caution for boosted engines."""


def turbo_balance_figures(values: Mapping[str, Any], units: UnitSystem = SI) -> list[Figure]:
    """Compressor and turbine in balance at the boost asked.

    Raises ValidationError at the fields of `BALANCE`.
    """
    inputs = read_inputs(BALANCE, values)
    _check(inputs)
    air = barometer(inputs)
    ratio = (air + inputs["boost"]) / air
    outlet = air + inputs["outlet_pressure"]
    answer = turbo_balance.balance(
        Turbocharger(*(inputs[name] for name in EFFICIENCIES)),
        inputs["air_flow"],
        inputs["inlet_temperature"],
        ratio,
        inputs["fuel_to_air"],
        inputs["turbine_temperature"],
        outlet,
    )
    return [
        *_compressor(inputs, ratio, answer, units),
        *_turbine(inputs, air, outlet, answer, units),
    ]


def _check(inputs: dict[str, Any]) -> None:
    fuel = float(inputs["fuel_to_air"] or 0.0)
    faults = [
        FieldError(name, gettext("enter at most 100 %"))
        for name in EFFICIENCIES
        if inputs[name] > 1.0
    ]
    if fuel > MOST_FUEL:
        message = gettext("enter fuel over air by mass, as 0.08")
        faults.append(FieldError("fuel_to_air", message))
    if inputs["air_flow"] > MOST_AIR:
        faults.append(FieldError("air_flow", gettext("enter at most {most:g} kg/s", most=MOST_AIR)))
    if faults:
        raise ValidationError(faults)
    inputs["fuel_to_air"] = fuel


def _compressor(
    inputs: Mapping[str, Any], ratio: float, answer: Balance, units: UnitSystem
) -> Iterator[Figure]:
    yield Figure(
        gettext("Pressure ratio of the compressor"),
        f"{ratio:.2f}",
        gettext("(air pressure + boost) ÷ air pressure, no loss before or after it"),
    )
    yield Figure(
        gettext("Temperature after the compressor"),
        units.text(answer.outlet_temperature, "temperature"),
        gettext(
            "T1 (1 + (r^((γ−1)/γ) − 1)/η) from {inlet} at η {efficiency:.0%}, γ 1.4, before any "
            "intercooler",
            inlet=units.text(inputs["inlet_temperature"], "temperature"),
            efficiency=inputs["compressor"],
        ),
    )
    yield Figure(
        gettext("Power for the compressor"),
        power(answer.power),
        gettext(
            "m cp (T2 − T1) at {flow:.0f} g/s of air, cp 1005 J/(kg K) ({source})",
            flow=1e3 * inputs["air_flow"],
            source=SOURCE,
        ),
    )


def _turbine(
    inputs: Mapping[str, Any], air: float, outlet: float, answer: Balance, units: UnitSystem
) -> Iterator[Figure]:
    if answer.inlet_pressure is None or answer.turbine_power is None:
        yield _out_of_reach(
            gettext(
                "no pressure before the turbine gives this power: even expanded to nothing, gas of "
                "{hot:.0f} K holds too little at these efficiencies. Ask less boost, or check "
                "the gas temperature",
                hot=inputs["turbine_temperature"],
            )
        )
        return
    if answer.inlet_pressure > MOST_EXPANSION * outlet:
        yield _out_of_reach(
            gettext(
                "it takes more than {most:.0f} times the pressure after the turbine, which no "
                "single turbine expands (common practice, no source). Ask less boost, or check "
                "the gas temperature",
                most=MOST_EXPANSION,
            )
        )
        return
    gauge, boost = answer.inlet_pressure - air, inputs["boost"]
    yield Figure(
        gettext("Power of the turbine"),
        power(answer.turbine_power),
        gettext(
            "the compressor's ÷ mechanical efficiency of {share:.0%}", share=inputs["mechanical"]
        ),
    )
    yield Figure(
        gettext("Back pressure needed"),
        units.text(gauge, "boost"),
        gettext(
            "gauge, before the turbine: p3 = p4 (1 − W/(m cp T3 η))^(−γ/(γ−1)), {absolute} "
            "absolute over {after}, γ 1.333, cp 1148 J/(kg K)",
            absolute=units.text(answer.inlet_pressure, "boost"),
            after=units.text(outlet, "boost"),
        ),
    )
    yield Figure(
        gettext("Back pressure over boost"),
        f"{gauge / boost:.2f}",
        _against_boost(gauge > boost),
    )
    yield _volumes(inputs, air, answer)


def _out_of_reach(reason: str) -> Figure:
    return Figure(gettext("Back pressure needed"), gettext("not reachable"), reason)


def _against_boost(is_above: bool) -> str:
    if is_above:
        return gettext(
            "gauge over gauge: above 1 the exhaust pushes back through the overlap, and on the "
            "exhaust valve harder than the boost on the intake valve"
        )
    return gettext("gauge over gauge: below 1 the boost is above the back pressure at overlap")


def _volumes(inputs: Mapping[str, Any], air: float, answer: Balance) -> Figure:
    """Exhaust over intake volume at the pressures of the balance."""
    charge = inputs["charge_temperature"] or answer.outlet_temperature
    hot, intake = inputs["turbine_temperature"], air + inputs["boost"]
    ratio = turbo.exhaust_to_intake_volume(
        inputs["fuel_to_air"], hot, charge, intake, answer.inlet_pressure or intake
    )
    return Figure(
        gettext("Exhaust volume over intake volume"),
        f"{float(ratio):.1f}",
        gettext(
            "(1 + F/A) × {hot:.0f} K/{cold:.0f} K × boost over back pressure, both absolute; {of}",
            hot=hot,
            cold=charge,
            of=gettext("charge temperature as entered")
            if inputs["charge_temperature"]
            else gettext("charge as hot as after the compressor"),
        ),
    )
