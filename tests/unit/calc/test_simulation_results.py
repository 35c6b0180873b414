"""Coefficients on the areas that a simulation asks for, against areas worked out by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from shopflow import testfile
from shopflow.calc.reduction import reduce
from shopflow.calc.simulation_results import CD_PORT, CD_SEAT, CD_THROAT
from tests.cli.sessions import EXHAUST_SI


@pytest.mark.source("geometry of circles: π/4 (Dp² − Ds²), π/4 (D − 2w)²")
def test_the_areas_behind_the_coefficients_are_those_of_their_circles():
    reduction = reduce(testfile.loads(EXHAUST_SI).flow_test())
    inner = 36.5 - 2 * 1.8 * math.cos(math.radians(30))
    for row, area in (
        (CD_THROAT, math.pi / 4 * (31.5**2 - 7.0**2)),
        (CD_SEAT, math.pi / 4 * inner**2),
        (CD_PORT, 690.0),
    ):
        areas = reduction.effective_area / np.asarray(row.of(reduction)) * 1e6
        assert areas == pytest.approx([area] * 7, rel=1e-12), row.key


def test_two_valves_have_twice_the_seat_and_throat_but_one_port():
    text = EXHAUST_SI.replace('head_diameter = "36.5 mm"', 'head_diameter = "36.5 mm"\ncount = 2')
    one, two = (reduce(testfile.loads(each).flow_test()) for each in (EXHAUST_SI, text))
    for row, share in ((CD_THROAT, 0.5), (CD_SEAT, 0.5), (CD_PORT, 1.0)):
        assert row.of(two) == pytest.approx(share * np.asarray(row.of(one)), rel=1e-12)


def test_without_seat_or_port_there_is_no_coefficient_on_it():
    seat = ("stem_diameter", "seat_angle", "seat_width", "throat_diameter", "[port]", "area")
    lines = [line for line in EXHAUST_SI.splitlines() if not line.startswith(seat)]
    reduction = reduce(testfile.loads("\n".join(lines)).flow_test())
    assert [row.of(reduction) for row in (CD_THROAT, CD_SEAT, CD_PORT)] == [None, None, None]
