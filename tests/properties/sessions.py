"""Bench sessions of every sort, in SI."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import strategies as st

from shopflow.calc.areas import Seat, Valve
from shopflow.calc.flowtest import FlowTest
from shopflow.calc.uncertainty import Uncertainties
from tests.unit.calc.sessions import flow_test

fractions = st.floats(0.0, 0.02)
flows = st.floats(0.01, 0.2)
rows = st.lists(flows, min_size=1, max_size=4).map(tuple)
diameters = st.floats(0.02, 0.06)


@st.composite
def valves(draw: st.DrawFn) -> Valve:
    """One to three valves with their seats."""
    head = draw(diameters)
    width = draw(st.floats(0.01, 0.08)) * head
    angle = math.radians(draw(st.floats(20.0, 60.0)))
    throat, stem = (draw(st.floats(*bounds)) * head for bounds in ((0.8, 0.92), (0.1, 0.25)))
    return Valve(head, draw(st.integers(1, 3)), Seat(stem, angle, width, throat))


@st.composite
def flow_tests(draw: st.DrawFn, steps: int | None = None) -> FlowTest:
    """A session of one to eight lifts, or of `steps`, each with one to four runs."""
    count = steps or draw(st.integers(1, 8))
    valve = draw(valves())
    shares = draw(st.lists(st.floats(0.01, 0.06), min_size=count, max_size=count))
    return flow_test(
        side=draw(st.sampled_from(["intake", "exhaust"])),
        barometer=draw(st.floats(85e3, 105e3)),
        temperature=draw(st.floats(285.0, 305.0)),
        humidity=draw(st.floats(0.0, 1.0)),
        valve=valve,
        test_pressure=draw(st.floats(1e3, 12e3)),
        calibration_factor=draw(st.floats(0.9, 1.1)),
        leakage=draw(st.floats(0.0, 0.005)),
        uncertainty=Uncertainties(
            draw(fractions), draw(fractions), draw(fractions), draw(st.floats(0, 5e-5))
        ),
        lifts=tuple(float(lift) for lift in np.cumsum(shares) * valve.head_diameter),
        runs=tuple(draw(st.lists(rows, min_size=count, max_size=count))),
    )
