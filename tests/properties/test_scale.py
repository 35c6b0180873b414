"""Figures at another size, in other units, at more flow: what must go with what."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.calc import (
    areas,
    compression,
    flow,
    gas,
    machindex,
    meterair,
    metering,
    springs,
    turbo,
)
from shopflow.calc.areas import Seat, Valve
from shopflow.calc.reduction import Reduction, reduce
from tests.optional import present
from tests.unit.calc.sessions import flow_test


def columns(reduction: Reduction) -> dict[str, np.ndarray]:
    return {
        field.name: np.array(
            [getattr(point, field.name) for point in reduction.points], dtype=float
        )
        for field in dataclasses.fields(reduction.points[0])
    }


def assert_alike(reduction: Reduction, other: Reduction, **factors: float) -> None:
    """Every figure alike, or in the ratio named."""
    mine, theirs = columns(reduction), columns(other)
    for name, column in mine.items():
        assert theirs[name] == pytest.approx(column * factors.get(name, 1.0), rel=1e-9), name


OF_THE_FLOW = ("flow", "flow_expanded_uncertainty", "flow_as_tested", "flow_isentropic",
               "mass_flow", "effective_area", "effective_area_expanded_uncertainty")  # fmt: skip
"""Figures in the ratio of the flow."""


@given(st.floats(0.2, 5.0))
def test_twice_the_flow_has_twice_the_figures(scale: float) -> None:
    small = flow_test()
    large = dataclasses.replace(
        small,
        leakage=small.leakage * scale,
        runs=tuple(tuple(run * scale for run in runs) for runs in small.runs),
    )
    linear = (*OF_THE_FLOW, "cd_curtain", "cd_head", "cd_least_area", "velocity")  # fmt: skip
    factors = dict.fromkeys(linear, scale) | {"kinetic_energy_flux": scale**3}
    assert_alike(reduce(small), reduce(large), **factors)


@given(st.floats(0.3, 3.0))
def test_a_model_to_scale_has_the_same_coefficients(scale: float) -> None:
    small = flow_test()
    valve, stated = small.valve, small.uncertainty
    seat = present(valve.seat)
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
        uncertainty=dataclasses.replace(stated, lift=present(stated.lift) * scale),
    )  # fmt: skip
    factors = dict.fromkeys((*OF_THE_FLOW, "kinetic_energy_flux"), scale**2) | {"lift": scale}
    assert_alike(reduce(small), reduce(large), **factors)


NUMBER, MASS, LENGTH, TIME = (0, 0, 0), (1, 0, 0), (0, 1, 0), (0, 0, 1)
AREA, VOLUME, SPEED, FREQUENCY = (0, 2, 0), (0, 3, 0), (0, 1, -1), (0, 0, -1)
VOLUME_FLOW, MASS_FLOW = (0, 3, -1), (1, 0, -1)
PRESSURE, DENSITY, FORCE = (1, -1, -2), (1, -3, 0), (1, 1, -2)
STIFFNESS, POWER, MASS_FLUX, HEAT = (1, 0, -2), (1, 2, -3), (1, -2, -1), (0, 2, -2)
"""Exponents of mass, length and time. `HEAT` is a specific heat per kelvin."""

Formula = Callable[..., float]
FORMULAS: dict[str, tuple[Formula, list[tuple[int, ...]], tuple[int, ...]]] = {
    "curtain": (areas.curtain_area, [LENGTH, LENGTH], AREA),
    "head": (areas.head_area, [LENGTH], AREA),
    "port at the stem": (areas.port_area_at_stem, [LENGTH, LENGTH], AREA),
    "cylinder": (compression.cylinder_volume, [LENGTH, LENGTH], VOLUME),
    "clearance": (compression.clearance_volume, [VOLUME] * 4, VOLUME),
    "compression ratio": (compression.compression_ratio, [VOLUME, VOLUME], NUMBER),
    "cut": (compression.volume_removed, [AREA, LENGTH], VOLUME),
    "corrected flow": (flow.corrected_flow, [VOLUME_FLOW, VOLUME_FLOW, NUMBER], VOLUME_FLOW),
    "restated flow": (flow.at_reference_pressure, [VOLUME_FLOW, PRESSURE, PRESSURE], VOLUME_FLOW),
    "velocity": (flow.mean_velocity, [VOLUME_FLOW, AREA], SPEED),
    "kinetic energy": (flow.kinetic_energy_flux, [DENSITY, VOLUME_FLOW, SPEED], POWER),
    "ideal flux": (gas.ideal_mass_flux, [PRESSURE, DENSITY, PRESSURE], MASS_FLUX),
    "Bernoulli": (gas.bernoulli_velocity, [PRESSURE, DENSITY], SPEED),
    "piston speed": (machindex.mean_piston_speed, [LENGTH, FREQUENCY], SPEED),
    "Mach index": (machindex.mach_index, [LENGTH, LENGTH, NUMBER, SPEED, NUMBER, SPEED], NUMBER),
    "speed at an index": (machindex.speed_at_index, [NUMBER, FREQUENCY, NUMBER], FREQUENCY),
    "gas force": (springs.pressure_force, [PRESSURE, LENGTH, LENGTH], FORCE),
    "rate from loads": (springs.spring_rate, [FORCE, FORCE, LENGTH], STIFFNESS),
    "load at lift": (springs.load_at_lift, [FORCE, STIFFNESS, LENGTH], FORCE),
    "rate from wire": (springs.wire_rate, [PRESSURE, LENGTH, LENGTH, NUMBER], STIFFNESS),
    "coil bind": (springs.coil_bind_room, [LENGTH, LENGTH, LENGTH], LENGTH),
    "gas volumes": (turbo.exhaust_to_intake_volume,
                    [NUMBER, NUMBER, NUMBER, PRESSURE, PRESSURE], NUMBER),
    "turbine": (turbo.turbine_power, [MASS_FLOW, NUMBER, NUMBER, NUMBER, HEAT], POWER),
    "density at the meter": (meterair.density_at_meter,
                             [DENSITY, PRESSURE, NUMBER, PRESSURE, NUMBER], DENSITY),
    "Reynolds number": (metering.pipe_reynolds, [MASS_FLOW, LENGTH, (1, -1, -1)], NUMBER),
}  # fmt: skip
units_of_size = st.floats(0.5, 2.0)


@pytest.mark.parametrize("formula", FORMULAS.values(), ids=FORMULAS.keys())
@given(units_of_size, units_of_size, units_of_size, st.data())
def test_every_formula_is_the_same_in_any_system_of_units(
    formula: tuple[Formula, list[tuple[int, ...]], tuple[int, ...]],
    mass: float,
    length: float,
    time: float,
    data: st.DataObject,
) -> None:
    """Dimensional homogeneity: the units of mass, length and time are anybody's choice."""
    function, dimensions, of_result = formula

    def unit(dimension: tuple[int, ...]) -> float:
        return math.prod(
            size**power for size, power in zip((mass, length, time), dimension, strict=True)
        )

    # Falling values keep the later of two pressures the lower, and ratios below one.
    values = sorted((data.draw(st.floats(0.1, 0.99)) for _ in dimensions), reverse=True)
    here = function(*values)
    there = function(*(value * unit(of) for value, of in zip(values, dimensions, strict=True)))
    assert there == pytest.approx(here * unit(of_result), rel=1e-9, abs=1e-9)
