"""Sums for the engine a head goes on: each figure with its working and its limits."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from shopflow.calc import compression, turbo
from shopflow.documents import Figure
from shopflow.errors import FieldError, ValidationError
from shopflow.services import fields
from shopflow.texts import gettext
from shopflow.units import Quantity, to_si

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
    volumes = {"inputs": inputs["chamber"], "gasket": gasket, "deck": deck, "dish": dish}
    printed = {name: _hundredths(volume) for name, volume in volumes.items()}
    parts = gettext(
        "chamber {inputs} + gasket {gasket} + deck {deck} + dish {dish}",
        **{name: f"{volume} cm³" for name, volume in printed.items()},
    )
    figures = [
        Figure(gettext("Swept volume"), _cc(swept), gettext("π/4 × bore² × stroke")),
        # The sum of the volumes as printed: whoever adds them up must come to it.
        Figure(gettext("Clearance volume"), f"{sum(printed.values())} cm³", parts),
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


def _hundredths(volume: float) -> Decimal:
    """A volume in cm³, to the hundredth."""
    return Decimal(f"{float(volume) / to_si(1.0, 'cm3'):.2f}")


def _ratio(swept: float, left: float) -> str:
    return f"{float(compression.compression_ratio(swept, left)):.2f} : 1"


def power(watts: float) -> str:
    """Power in kW and hp with two digits: specific heat and its ratio are taken as constant."""
    return f"{two_digits(watts / 1e3)} kW ({two_digits(watts / to_si(1.0, 'hp'))} hp)"


def two_digits(value: float) -> str:
    """A number with two digits that count, as "35", "5700" or "4.6"."""
    return f"{float(f'{value:.1e}'):.15g}"
