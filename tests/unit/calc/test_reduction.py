"""A whole session reduced: by hand, in either system of units, and at any scale."""

from __future__ import annotations

import dataclasses
import math
from decimal import Decimal
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopflow import sessionfile
from shopflow.calc.areas import Seat, Valve
from shopflow.calc.comparison import compare
from shopflow.calc.reduction import Reduction, reduce
from shopflow.calc.uncertainty import Uncertainties
from tests.unit.calc.sessions import CFM, INCH_OF_WATER, flow_test, one_lift

LIKE = 1e-12
"""Conversion of units rounds a handful of times in double precision."""


@pytest.mark.source("Heywood (1988), appendix C (from memory), by hand")
def test_an_ideal_nozzle_has_a_coefficient_of_one() -> None:
    """1000 mm2 at Cd 1, 28 inH2O, dry air of 20 °C (Heywood 1988, appendix C, from memory).

    219.487 and 227.496 cfm are for an ideal gas of R 287.05; the real one is 0.04 % denser,
    which changes flow by half of that.
    """
    head = math.sqrt(4 * 1000e-6 / math.pi)
    for side, flow in (("intake", 219.487), ("exhaust", 227.496)):
        test = one_lift(flow * CFM, Uncertainties(), side=side, valve=Valve(head), port_area=None)
        assert reduce(test).points[0].cd_head == pytest.approx(1.0, rel=3e-4)


@pytest.mark.source("Definition of kinetic energy, by hand")
def test_kinetic_energy_and_velocity_by_hand() -> None:
    """200 cfm through 1200 mm2: 78.6579 m/s; 351.599 W at 1.204118 kg/m3."""
    point = reduce(one_lift(200 * CFM, Uncertainties(), port_area=1200e-6)).points[0]
    assert point.velocity == pytest.approx(78.6579, abs=5.1e-5)
    assert point.kinetic_energy_flux == pytest.approx(351.599 * 1.204557 / 1.204118, rel=1e-5)


def test_coefficients_on_different_areas_belong_together() -> None:
    """Head-area coefficient = curtain coefficient times 4 L/D, by their definitions."""
    for point in reduce(flow_test()).points:
        assert point.cd_head == pytest.approx(
            point.cd_curtain * 4 * point.lift_over_diameter, rel=LIKE
        )


@pytest.mark.source("Heywood; Annand and Roe; Taylor; Blair (ranges from memory)")
def test_published_bounds_hold_for_a_plausible_port() -> None:
    """On curtain area 0.45 to 0.7 (Heywood, Annand and Roe, Taylor, Blair; from memory)."""
    points = reduce(flow_test()).points
    assert all(0.4 < point.cd_curtain < 0.75 for point in points)
    assert all(point.cd_least_area is not None and point.cd_least_area < 1 for point in points)


def test_flow_is_quoted_at_the_reference_and_mass_flow_at_the_test_pressure() -> None:
    found = reduce(flow_test())
    ratio = found.flow / (found.mass_flow / found.air_density)
    assert ratio == pytest.approx([math.sqrt(28 / 25)] * len(ratio), rel=LIKE)


def test_what_is_absent_is_none() -> None:
    point = reduce(flow_test(valve=Valve(44e-3), port_area=None)).points[0]
    assert (point.cd_least_area, point.velocity, point.kinetic_energy_flux) == (None, None, None)


def test_figures_beyond_what_a_number_holds_are_refused() -> None:
    with pytest.raises(ValueError, match="too large or too small"):
        reduce(flow_test(calibration_factor=1e200))


def columns(found: Reduction) -> dict[str, np.ndarray]:
    return {
        field.name: np.array([getattr(point, field.name) for point in found.points], dtype=float)
        for field in dataclasses.fields(found.points[0])
    }


def assert_alike(one: Reduction, other: Reduction, **factors: float) -> None:
    """Every figure alike, or in the ratio named."""
    mine, theirs = columns(one), columns(other)
    for name, column in mine.items():
        assert theirs[name] == pytest.approx(column * factors.get(name, 1.0), rel=1e-9), name


@given(st.floats(0.2, 5.0))
def test_twice_the_flow_has_twice_the_figures(scale: float) -> None:
    small = flow_test()
    large = dataclasses.replace(
        small,
        leakage=small.leakage * scale,
        runs=tuple(tuple(run * scale for run in runs) for runs in small.runs),
    )
    linear = ("flow", "flow_expanded_uncertainty", "mass_flow", "effective_area", "cd_curtain",
              "cd_head", "cd_least_area", "velocity")  # fmt: skip
    factors = dict.fromkeys(linear, scale) | {"kinetic_energy_flux": scale**3}
    assert_alike(reduce(small), reduce(large), **factors)


@given(st.floats(0.3, 3.0))
def test_a_model_to_scale_has_the_same_coefficients(scale: float) -> None:
    small = flow_test()
    valve = small.valve
    assert valve.seat is not None
    seat = valve.seat
    large = dataclasses.replace(
        small,
        valve=Valve(
            valve.head_diameter * scale,
            1,
            Seat(seat.stem_diameter * scale, seat.angle, seat.width * scale,
                 seat.throat_diameter * scale),
        ),
        port_area=1.2e-3 * scale**2,
        leakage=small.leakage * scale**2,
        lifts=tuple(lift * scale for lift in small.lifts),
        runs=tuple(tuple(run * scale**2 for run in runs) for runs in small.runs),
        uncertainty=dataclasses.replace(small.uncertainty, lift=small.uncertainty.lift * scale),
    )  # fmt: skip
    squared = ("flow", "flow_expanded_uncertainty", "mass_flow", "effective_area",
               "kinetic_energy_flux")  # fmt: skip
    factors = dict.fromkeys(squared, scale**2) | {"lift": scale}
    assert_alike(reduce(small), reduce(large), **factors)


@given(st.integers(2, 5))
def test_valves_that_open_together_share_the_flow(count: int) -> None:
    one = reduce(flow_test())
    many = reduce(flow_test(valve=dataclasses.replace(flow_test().valve, count=count)))
    for name in ("cd_curtain", "cd_head", "cd_least_area"):
        assert getattr(many, name) * count == pytest.approx(getattr(one, name), rel=LIKE)


def test_coefficients_are_continuous_where_the_flow_chokes() -> None:
    edge = 101325.0 * (1 - (2 / 2.4) ** 3.5)
    below, above = (
        reduce(flow_test(test_pressure=edge * (1 + nudge))).effective_area
        for nudge in (-1e-9, 1e-9)
    )
    assert below == pytest.approx(above, rel=1e-8)


# Exact factors: international inch and foot; conventional inches of water and mercury.
TO_SI = {
    "in": ("mm", Decimal("25.4")),
    "in2": ("cm2", Decimal("6.4516")),
    "inH2O": ("Pa", Decimal("249.08891")),
    "inHg": ("Pa", Decimal("3386.389")),
    "cfm": ("m3/s", Decimal("0.000471947443200")),
}


def converted(text: str) -> str:
    number, unit = text.split()
    if unit == "degF":
        return f"{(Decimal(number) - 32) * 5 / 9} degC"
    symbol, factor = TO_SI[unit]
    return f"{Decimal(number) * factor} {symbol}"


@st.composite
def american(draw: st.DrawFn) -> dict[str, Any]:
    """A session as a shop in the United States types it."""

    def typed(low: str, high: str, places: int) -> Decimal:
        return draw(st.decimals(low, high, places=places, allow_nan=False))

    count = draw(st.integers(1, 12))
    lifts = [Decimal("0.050") * (place + 1) for place in range(count)]
    return {
        "schema": 1,
        "side": draw(st.sampled_from(["intake", "exhaust"])),
        "air": {
            "barometer": f"{typed('26', '31', 2)} inHg",
            # Whole multiples of 9 degrees are exact in Celsius.
            "temperature": f"{32 + 9 * draw(st.integers(3, 5))} degF",
            "humidity": f"{draw(st.integers(0, 100))} %",
        },
        "valve": {
            "head_diameter": f"{typed('1.5', '2.2', 3)} in",
            "stem_diameter": "0.311 in",
            "seat_angle": f"{draw(st.sampled_from(['30', '39', '45']))} deg",
            "seat_width": f"{typed('0.040', '0.080', 3)} in",
            "throat_diameter": f"{typed('1.2', '1.45', 3)} in",
        },
        "port": {"area": f"{typed('1.2', '2.4', 3)} in2"},
        "bench": {
            "test_pressure": f"{typed('8', '30', 2)} inH2O",
            "leakage": f"{typed('0', '1', 1)} cfm",
            "calibration_factor": typed("0.95", "1.05", 3),
        },
        "uncertainty": {"calibration": "1.2 %", "pressure": "0.4 %", "lift": "0.001 in"},
        "readings": {
            "lift_unit": "in",
            "flow_unit": "cfm",
            "lift": lifts,
            "flow": [
                [typed("20", "300", 1) for _ in range(draw(st.integers(1, 3)))] for _ in lifts
            ],
        },
    }


def in_si(content: dict[str, Any]) -> dict[str, Any]:
    """The same session typed in SI."""
    readings = content["readings"]
    tables = {
        name: {
            key: converted(value)
            if isinstance(value, str) and value.split()[1] in {*TO_SI, "degF"}
            else value
            for key, value in content[name].items()
        }
        for name in ("air", "valve", "port", "bench", "uncertainty")
    }
    return content | tables | {
        "readings": {
            "lift_unit": "mm",
            "flow_unit": "m3/s",
            "lift": [lift * TO_SI["in"][1] for lift in readings["lift"]],
            "flow": [[run * TO_SI["cfm"][1] for run in runs] for runs in readings["flow"]],
        }
    }  # fmt: skip


def agree(one: float | None, other: float | None, scale: float = 0.0) -> bool:
    if one is None or other is None:
        return one is other
    return bool(one == pytest.approx(other, rel=LIKE, abs=LIKE * scale))


@given(american())
@settings(max_examples=60)
def test_one_session_typed_in_either_system_gives_the_same_figures(
    content: dict[str, Any],
) -> None:
    one = reduce(sessionfile.check(content).flow_test())
    other = reduce(sessionfile.check(in_si(content)).flow_test())
    assert agree(one.air_density, other.air_density)
    assert agree(one.mean_flow, other.mean_flow)
    for mine, theirs in zip(one.points, other.points, strict=True):
        for field in dataclasses.fields(mine):
            name = field.name
            if name == "flow_expanded_uncertainty":
                # The spread of near-equal runs loses digits that the flow itself keeps.
                assert agree(mine.flow_expanded_uncertainty, theirs.flow_expanded_uncertainty,
                             mine.flow)  # fmt: skip
            else:
                assert agree(getattr(mine, name), getattr(theirs, name)), name


@given(american(), american())
@settings(max_examples=40)
def test_a_comparison_across_systems_is_the_same(
    first: dict[str, Any], second: dict[str, Any]
) -> None:
    before = reduce(sessionfile.check(first).flow_test())
    after, metric = (
        reduce(sessionfile.check(content).flow_test()) for content in (second, in_si(second))
    )
    one, other = compare(before, after), compare(before, metric)
    assert len(one.points) == len(other.points) > 0
    for mine, theirs in zip(one.points, other.points, strict=True):
        assert agree(mine.gain, theirs.gain, mine.after)
        assert agree(mine.before, theirs.before)


def test_a_test_pressure_beyond_incompressible_is_still_reduced() -> None:
    assert reduce(flow_test(test_pressure=300 * INCH_OF_WATER)).points
