"""Many bench sessions reduced together, their figures in arrays of one row a session."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import repeat
from typing import Any

import numpy as np

from shopflow.calc.air import density
from shopflow.calc.areas import Seat, Valve
from shopflow.calc.kinds import Array
from shopflow.calc.reduction import FlowTest, Reduction, reduce, reduce_arrays
from shopflow.calc.uncertainty import Budget, Uncertainties

ARRAYS = ("lifts", "run_counts", "flow", "mass_flow", "effective_area", "cd_curtain", "cd_head",
          "cd_least_area", "velocity", "kinetic_energy_flux")  # fmt: skip
COMPONENTS = ("runs", "calibration", "pressure", "lift", "element")


def reduce_all(tests: Sequence[FlowTest]) -> list[Reduction]:
    """Work out the figures of many sessions, as `reduce` does of one.

    Parameters
    ----------
    tests : the sessions, of any kinds

    Returns
    -------
    their reductions, in the same order

    Raises
    ------
    ValueError where `reduce` would of one of them

    Notes
    -----
    Sessions of one side with as many lifts, and alike in what they state, are worked out in one
    go by the same formulas; a session whose runs have pressures of their own is worked out alone.
    """
    found: dict[int, Reduction] = {}
    alike: dict[tuple[object, ...], list[int]] = {}
    for place, test in enumerate(tests):
        if test.run_pressures is None:
            kind = (test.side, len(test.lifts), test.valve.seat is None, test.port_area is None)
            alike.setdefault(kind, []).append(place)
        else:
            found[place] = reduce(test)
    for places in alike.values():
        found.update(zip(places, _together([tests[place] for place in places]), strict=True))
    return [found[place] for place in range(len(tests))]


def _together(tests: Sequence[FlowTest]) -> Iterable[Reduction]:
    with np.errstate(all="ignore"):
        stacked = _stacked(tests)
        rho = density(stacked.barometer, stacked.temperature, stacked.humidity)
        whole = reduce_arrays(stacked, rho)
        if not (np.isfinite(rho).all() and (rho > 0.0).all() and whole.is_workable):
            # One of them is at fault, and says so.
            return [reduce(test) for test in tests]
    return _apart(tests, whole)


def _stacked(tests: Sequence[FlowTest]) -> FlowTest:
    """All of them as one, each number a column of as many rows."""
    first = tests[0]
    return FlowTest(
        side=first.side,
        barometer=_column(test.barometer for test in tests),
        temperature=_column(test.temperature for test in tests),
        humidity=_column(test.humidity for test in tests),
        valve=_valves([test.valve for test in tests]),
        port_area=None if first.port_area is None else _column(test.port_area for test in tests),
        test_pressure=_column(test.test_pressure for test in tests),
        reference_pressure=_column(test.reference_pressure for test in tests),
        calibration_factor=_column(test.calibration_factor for test in tests),
        leakage=_column(test.leakage for test in tests),
        leakage_pressure=_column(test.leakage_pressure or test.test_pressure for test in tests),
        uncertainty=_uncertainties([test.uncertainty for test in tests]),
        lifts=np.array([test.lifts for test in tests], dtype=float),  # type: ignore[arg-type]
        runs=tuple(runs for test in tests for runs in test.runs),
        air_correction=_column(test.air_correction for test in tests),
    )


def _valves(valves: Sequence[Valve]) -> Valve:
    return Valve(
        _column(valve.head_diameter for valve in valves),
        _column(valve.count for valve in valves),
        None if valves[0].seat is None else _seats([v.seat for v in valves if v.seat is not None]),
    )


def _seats(seats: Sequence[Seat]) -> Seat:
    return Seat(
        stem_diameter=_column(seat.stem_diameter for seat in seats),
        angle=_column(seat.angle for seat in seats),
        width=_column(seat.width for seat in seats),
        throat_diameter=_column(seat.throat_diameter for seat in seats),
    )


def _uncertainties(stated: Sequence[Uncertainties]) -> Uncertainties:
    return Uncertainties(*(
        _column(getattr(one, name) for one in stated) for name in Uncertainties.__slots__
    ))  # fmt: skip


def _column(values: Iterable[float | None]) -> Array:
    return np.array(list(values), dtype=float)[:, np.newaxis]


def _apart(tests: Sequence[FlowTest], whole: Reduction) -> Iterator[Reduction]:
    arrays = zip(*(_rows(getattr(whole, name), len(tests)) for name in ARRAYS), strict=True)
    budgets = zip(*(getattr(whole.budget, name) for name in COMPONENTS), strict=True)
    densities = np.ravel(whole.air_density).tolist()
    for test, rho, rows, components in zip(tests, densities, arrays, budgets, strict=True):
        figures: Any = dict(zip(ARRAYS, rows, strict=True))
        yield Reduction(test=test, air_density=rho, **figures, budget=Budget(*components))


def _rows(array: Array | None, count: int) -> Iterable[Array | None]:
    return repeat(None, count) if array is None else array
