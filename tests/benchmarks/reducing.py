"""Reducing 100,000 sessions, against numpy on arrays and a library's call for each figure."""

from __future__ import annotations

import random
import time
from collections.abc import Iterator

import fluids
import numpy as np
import psychrolib
from numpy.typing import NDArray

from shopflow.calc.batch_reduction import reduce_all
from shopflow.calc.flowtest import FlowTest
from tests.benchmarks.measuring import Bench, Row, agree, in_turns
from tests.optional import present
from tests.unit.calc.sessions import flow_test

SESSIONS = 100_000
BORE = 0.01
"""Of the nozzle, in a pipe of 1 m."""

ONE_BY_ONE = 2_000
"""Sessions that the scalar calls are timed on."""

Columns = dict[str, NDArray[np.float64]]


def measure(bench: Bench) -> Iterator[Row]:
    """All the figures of every session; against arrays only the arithmetic counts as limit."""
    tests = _sessions(bench.count(SESSIONS))
    columns = _columns(tests)
    mine, arrays = in_turns(
        max(1, bench.rounds // 2), lambda: reduce_all(tests), lambda: _by_arrays(columns)
    )
    answer = np.array([item.effective_area for item in reduce_all(tests)])
    agree(np.allclose(answer, _by_arrays(columns)[3], rtol=1e-3), True, "the effective areas")
    what = f"reducing {len(tests):,} sessions"
    yield Row(what, "numpy, the same arithmetic on arrays", mine, arrays, 10)
    psychrolib.SetUnitSystem(psychrolib.SI)
    some = tests[:ONE_BY_ONE]
    started = time.process_time()
    areas = [_by_scalar_calls(test) for test in some]
    scalar = (time.process_time() - started) * len(tests) / len(some)
    agree(np.allclose(answer[: len(some)], areas, rtol=2e-3), True, "the effective areas")
    yield Row(what, "a scalar library call a figure", mine, scalar, 20, at_least=True)


def _sessions(count: int) -> list[FlowTest]:
    chance = random.Random(count)
    lifts = flow_test().lifts
    return [
        flow_test(
            barometer=chance.uniform(95e3, 103e3),
            temperature=chance.uniform(288.0, 300.0),
            humidity=chance.uniform(0.2, 0.7),
            calibration_factor=chance.uniform(0.98, 1.02),
            runs=tuple(
                (flow, flow * 1.003)
                for flow in (chance.uniform(8, 9) * lift * (1 - 25 * lift) for lift in lifts)
            ),
        )
        for _ in range(count)
    ]


def _columns(tests: list[FlowTest]) -> Columns:
    first = tests[0]
    names = ("barometer", "temperature", "humidity", "calibration_factor")
    columns = {name: np.array([[getattr(test, name)] for test in tests]) for name in names}
    columns["runs"] = np.array([test.runs for test in tests])
    columns["lifts"] = np.array(first.lifts)
    return columns


def _by_arrays(of: Columns) -> list[NDArray[np.float64]]:
    """Flow, its uncertainty, mass flow, effective area, three coefficients, velocity, energy."""
    a_test = flow_test()
    seat, stated = a_test.valve.seat, a_test.uncertainty
    assert seat is not None
    assert a_test.port_area is not None
    diameter, lifts = a_test.valve.head_diameter, of["lifts"]
    celsius = of["temperature"] - 273.15
    vapour = of["humidity"] * 610.94 * np.exp(17.625 * celsius / (celsius + 243.04))
    rho = (of["barometer"] - 0.378 * vapour) / (287.05 * of["temperature"])
    mean = of["runs"].mean(axis=2)
    spread = of["runs"].std(axis=2, ddof=1) / 2**0.5 / (mean - a_test.leakage)
    flow = of["calibration_factor"] * (mean - a_test.leakage)
    at_reference = flow * (a_test.reference_pressure / a_test.test_pressure) ** 0.5
    ratio = 1 - a_test.test_pressure / of["barometer"]
    flux = (7 * of["barometer"] * rho * (ratio ** (2 / 1.4) - ratio ** (2.4 / 1.4))) ** 0.5
    area = rho * flow / flux
    width = seat.width * np.cos(seat.angle)
    slant = lifts * np.cos(seat.angle) * (diameter - 2 * width + lifts * np.sin(2 * seat.angle) / 2)
    edges = (diameter - width) * np.hypot(lifts - width * np.tan(seat.angle), width)
    least = np.pi * np.where(lifts <= 2 * width / np.sin(2 * seat.angle), slant, edges)
    velocity = at_reference / a_test.port_area
    slope = np.gradient(at_reference, lifts, axis=1)
    calibration, pressure = present(stated.calibration), present(stated.pressure)
    lift = present(stated.lift)
    uncertainty = 2 * (
        spread**2 + (calibration / 2) ** 2 + (pressure / 2) ** 2
        + (slope * lift / at_reference) ** 2
    ) ** 0.5  # fmt: skip
    return [
        at_reference, uncertainty * at_reference, rho * flow, area,
        area / (np.pi * diameter * lifts), area / (np.pi * diameter**2 / 4), area / least,
        velocity, rho * at_reference * velocity**2 / 2,
    ]  # fmt: skip


def _by_scalar_calls(test: FlowTest) -> list[float]:
    """Effective areas by general libraries called for one number at a time.

    Density by psychrolib; the ideal mass flow by fluids, as of a nozzle in a wall (beta near 0),
    whose expansibility is the isentropic one.
    """
    celsius = test.temperature - 273.15
    below = test.barometer - test.test_pressure
    areas = []
    for runs in test.runs:
        ratio = psychrolib.GetHumRatioFromRelHum(celsius, test.humidity, test.barometer)
        rho = psychrolib.GetMoistAirDensity(celsius, ratio, test.barometer)
        flow = test.calibration_factor * (float(np.mean(runs)) - test.leakage)
        np.std(runs, ddof=1)
        expansibility = fluids.nozzle_expansibility(1.0, BORE, test.barometer, below, 1.4)
        ideal = fluids.flow_meter_discharge(
            1.0, BORE, test.barometer, below, rho, 1.0, expansibility
        )
        areas.append(rho * flow / ideal * np.pi / 4 * BORE**2)
    return areas
