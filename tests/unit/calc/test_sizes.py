"""Shares of the sizes of valve, seat and port in the uncertainty of coefficients and velocity."""

from __future__ import annotations

import dataclasses
import math

import GTC
import numpy as np
import pytest

from shopflow import testfile
from shopflow.calc.area_gain import compare_areas
from shopflow.calc.areas import Seat, least_valve_area
from shopflow.calc.array_types import Floats
from shopflow.calc.reduction import Reduction, reduce
from shopflow.calc.results import RESULTS
from shopflow.calc.student import NORMAL_95
from shopflow.calc.uncertainty import Uncertainties
from tests.cli.sessions import INTAKE_US

READ = testfile.loads(INTAKE_US).flow_test()
TEST = dataclasses.replace(READ, runs=tuple(row[:1] for row in READ.runs))
"""One run a lift, so that every uncertainty is known and 95 % is 1.96."""

DIVISION = (0.5 * 0.3048**3 / 60.0,) * len(TEST.lifts)


def reduced(**stated: float) -> Reduction:
    """The session with one division known, and the uncertainties of these sizes."""
    uncertainties = Uncertainties(calibration=0.0, pressure=0.0, lift=0.0, leakage=0.0, density=0.0)
    uncertainty = dataclasses.replace(uncertainties, **stated)
    return reduce(dataclasses.replace(TEST, uncertainty=uncertainty, divisions=DIVISION))


def margin(key: str, reduction: Reduction) -> Floats:
    """Expanded uncertainty of a result of a test."""
    (row,) = [row for row in RESULTS if row.key == key]
    expanded = row.expanded(reduction)
    assert expanded is not None
    return expanded


def added(name: str, **stated: float) -> Floats:
    """Relative standard uncertainty that sizes add to a figure, from the difference of squares."""
    exact, with_sizes = (margin(name, item) for item in (reduced(), reduced(**stated)))
    return np.asarray(np.sqrt(with_sizes**2 - exact**2) / getattr(reduced(), name) / NORMAL_95)


@pytest.mark.source("GTC: coefficients, velocity and energy by hand")
def test_valve_diameter_and_port_area_count_by_their_powers() -> None:
    """Curtain 1/D, head 1/D2; velocity 1/A, energy 1/A2."""
    diameter, area = TEST.valve.head_diameter, TEST.port_area
    assert area is not None
    u_d, u_a = 0.002 * diameter, 0.01 * area
    d, a = GTC.ureal(diameter, u_d), GTC.ureal(area, u_a)
    wanted = {
        "cd_curtain": GTC.uncertainty(GTC.log(1.0 / d)),
        "cd_head": GTC.uncertainty(GTC.log(1.0 / (d * d))),
        "velocity": GTC.uncertainty(GTC.log(1.0 / a)),
        "kinetic_energy_flux": GTC.uncertainty(GTC.log(1.0 / (a * a))),
    }
    for name, relative in wanted.items():
        answer = added(name, head_diameter=u_d, port_area=u_a)
        assert answer.tolist() == pytest.approx([relative] * len(answer), rel=1e-6), name


@pytest.mark.source("GTC: the least area's stages by Heywood, differentiated by GTC")
def test_seat_and_throat_count_by_the_least_area_s_derivatives() -> None:
    """The first stage at the lowest lift: D, w and the angle, written out by hand."""
    seat = TEST.valve.seat
    assert seat is not None
    lift = float(TEST.lifts[0])
    d = GTC.ureal(TEST.valve.head_diameter, 2e-5)
    width, angle = GTC.ureal(float(seat.width), 5e-5), GTC.ureal(float(seat.angle), 0.008)
    projected = width * GTC.cos(angle)
    assert lift <= GTC.value(projected / (GTC.sin(angle) * GTC.cos(angle)))
    area = math.pi * lift * GTC.cos(angle) * (
        d - 2.0 * projected + lift / 2.0 * GTC.sin(2.0 * angle)
    )  # fmt: skip
    assert GTC.value(area) == pytest.approx(
        float(least_valve_area(TEST.valve.head_diameter, seat, lift)), rel=1e-12
    )
    answer = added("cd_least_area", head_diameter=2e-5, seat_width=5e-5, seat_angle=0.008)[0]
    assert answer == pytest.approx(GTC.uncertainty(GTC.log(area)), rel=1e-5)


def test_throat_and_stem_count_where_the_throat_is_the_least_area() -> None:
    small = Seat(7e-3, math.radians(45.0), 1.5e-3, 20e-3)
    valve = dataclasses.replace(TEST.valve, seat=small)
    uncertainty = dataclasses.replace(
        reduced().test.uncertainty, throat_diameter=1e-4, stem_diameter=5e-5
    )
    test = dataclasses.replace(TEST, valve=valve, divisions=DIVISION)
    stated, exact = (
        reduce(dataclasses.replace(test, uncertainty=item))
        for item in (uncertainty, reduced().test.uncertainty)
    )
    with_sizes, without = (margin("cd_least_area", one)[-1] for one in (stated, exact))
    assert exact.cd_least_area is not None
    last = math.sqrt(with_sizes**2 - without**2) / exact.cd_least_area[-1]
    # By hand: A = pi/4 (Dp2 - Ds2).
    wanted = math.hypot(2.0 * 20e-3 * 1e-4, 2.0 * 7e-3 * 5e-5) / (20e-3**2 - 7e-3**2)
    assert last / NORMAL_95 == pytest.approx(wanted, rel=1e-5)


def test_sizes_count_neither_in_a_flow_nor_in_a_gain_at_the_same_sizes() -> None:
    sizes = {"head_diameter": 1e-4, "port_area": 1e-5, "seat_angle": 0.02}
    for key in ("flow_as_tested", "effective_area"):
        assert margin(key, reduced(**sizes)).tolist() == margin(key, reduced()).tolist()
    exact, stated = (compare_areas([item], [item]) for item in (reduced(), reduced(**sizes)))
    assert [point.expanded_uncertainty for point in stated.points] == [
        point.expanded_uncertainty for point in exact.points
    ]
