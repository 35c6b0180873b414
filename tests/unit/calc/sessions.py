"""A flow test in SI, made of plain numbers."""

from __future__ import annotations

from typing import Any

from shopflow.calc.areas import Seat, Valve
from shopflow.calc.flowtest import FlowTest
from shopflow.calc.uncertainty import Uncertainties

CFM = 0.3048**3 / 60
INCH_OF_WATER = 249.08891


def flow_test(**overrides: Any) -> FlowTest:
    """Seven lifts of an intake port, two runs each."""
    settings: dict[str, Any] = {
        "side": "intake",
        "barometer": 101325.0,
        "temperature": 293.15,
        "humidity": 0.0,
        "valve": Valve(44e-3, 1, Seat(7e-3, 0.7853981633974483, 2.121e-3, 39e-3)),
        "port_area": 1.2e-3,
        "test_pressure": 25 * INCH_OF_WATER,
        "reference_pressure": 28 * INCH_OF_WATER,
        "calibration_factor": 1.02,
        "leakage": 0.5 * CFM,
        "uncertainty": Uncertainties(0.012, 0.005, 0.004, 0.025e-3),
        "lifts": tuple(lift * 1e-3 for lift in (1.5, 3, 5, 7, 9, 11, 12.5)),
        "runs": tuple(
            (flow * CFM, (flow + 0.4) * CFM) for flow in (26, 56, 95, 128, 153, 168, 175)
        ),
    }
    return FlowTest(**(settings | overrides))


def one_lift(flow: float, uncertainty: Uncertainties, **overrides: Any) -> FlowTest:
    """One reading at one lift, stated at the pressure it was tested at, without corrections."""
    return flow_test(
        lifts=(0.01,),
        runs=((flow,),),
        leakage=0.0,
        calibration_factor=1.0,
        test_pressure=28 * INCH_OF_WATER,
        uncertainty=uncertainty,
        **overrides,
    )
