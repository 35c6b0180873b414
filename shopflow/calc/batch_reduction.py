"""Many bench sessions reduced together, their figures in arrays of one row a session."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import chain
from operator import attrgetter
from typing import Any, overload

import numpy as np

from shopflow.calc.air import density
from shopflow.calc.area_curve import AreaCurve, area_curves
from shopflow.calc.areas import Seat, Valve
from shopflow.calc.array_types import Array
from shopflow.calc.flowtest import FlowTest
from shopflow.calc.reduction import Reduction, reduce, reduce_arrays
from shopflow.calc.uncertainty import Budget, Uncertainties

NUMBERS = ("barometer", "temperature", "humidity", "test_pressure", "reference_pressure",
           "calibration_factor", "leakage", "air_correction")  # fmt: skip
VALVE = ("head_diameter", "count")
SEAT = Seat.__slots__
BLOCK = 4096
"""Sessions in one go: more would not stay in the processor's cache from one formula to the next."""

ARRAYS = ("lifts", "run_counts", "flow", "mass_flow", "effective_area", "cd_curtain", "cd_head",
          "cd_least_area", "velocity", "kinetic_energy_flux", "flow_as_tested", "flow_isentropic",
          "choked")  # fmt: skip


@dataclass(frozen=True)
class Reductions(Sequence[Reduction]):
    """The reductions of many sessions, each cut out of its arrays when it is asked for."""

    tests: Sequence[FlowTest]
    _wholes: Sequence[Reduction]
    _rows: Sequence[int | None]
    """For each session the arrays it is in, and its row; none for one reduced alone."""

    def __len__(self) -> int:
        return len(self.tests)

    def curves(self) -> list[AreaCurve]:
        """The curve of each session, without the rest of its figures being cut out."""
        where = list(zip(self._wholes, self._rows, strict=True))
        wholes = {id(reduced): reduced for reduced, row in where if row is not None}
        cut = {
            key: area_curves(reduced.lifts, reduced.effective_area)
            for key, reduced in wholes.items()
        }
        return [reduced.curve if row is None else cut[id(reduced)][row] for reduced, row in where]

    def greatest_openings(self) -> list[tuple[float, int]]:
        """Of each session the greatest coefficient on its opening, and the index of its lift."""
        greatest: dict[int, tuple[list[float], list[int]]] = {}
        for block in {id(block): block for block in self._wholes}.values():
            table = np.atleast_2d(block.opening_coefficient)
            greatest[id(block)] = table.max(axis=1).tolist(), table.argmax(axis=1).tolist()
        where = zip(self._wholes, self._rows, strict=True)
        return [
            (greatest[id(reduced)][0][row or 0], greatest[id(reduced)][1][row or 0])
            for reduced, row in where
        ]

    @overload
    def __getitem__(self, index: int) -> Reduction: ...
    @overload
    def __getitem__(self, index: slice) -> list[Reduction]: ...
    def __getitem__(self, index: int | slice) -> Reduction | list[Reduction]:
        if isinstance(index, slice):
            return [self[number] for number in range(*index.indices(len(self)))]
        reduced, row = self._wholes[index], self._rows[index]
        return reduced if row is None else _cut_out(self.tests[index], reduced, row)


def reduce_all(tests: Sequence[FlowTest]) -> Reductions:
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
    Sessions of one side with as many lifts, and alike in what they state, are calculated in one
    go by the same formulas; a session whose runs have pressures of their own is calculated alone.
    """
    wholes: list[Any] = [None] * len(tests)
    rows: list[int | None] = [None] * len(tests)
    alike: defaultdict[tuple[object, ...], list[int]] = defaultdict(list)
    for index, test in enumerate(tests):
        if test.run_pressures is None:
            kind = test.side, len(test.lifts), test.valve.seat is None, test.port_area is None
            alike[kind].append(index)
        else:
            wholes[index] = reduce(test)
    for places in alike.values():
        for start in range(0, len(places), BLOCK):
            block = places[start : start + BLOCK]
            reduced = _together([tests[index] for index in block])
            for row, index in enumerate(block):
                wholes[index], rows[index] = reduced, row
    return Reductions(tests, wholes, rows)


def _together(tests: Sequence[FlowTest]) -> Reduction:
    with np.errstate(all="ignore"):
        stacked = _stacked(tests)
        rho = density(stacked.barometer, stacked.temperature, stacked.humidity)
        reduced = reduce_arrays(stacked, rho)
        if not (np.isfinite(rho).all() and (rho > 0.0).all() and reduced.is_workable):
            for test in tests:
                # The one at fault says what is wrong with it.
                reduce(test)
    return reduced


def _stacked(tests: Sequence[FlowTest]) -> FlowTest:
    """Sessions that are alike as one, each number a column of as many rows."""
    first = tests[0]
    valves = [test.valve for test in tests]
    seats = [valve.seat for valve in valves]
    numbers = _columns(tests, NUMBERS if first.port_area is None else (*NUMBERS, "port_area"))
    # None becomes a number that is none.
    leaking: Any = np.array([[test.leakage_pressure] for test in tests], dtype=float)
    lifts: Any = _numbers(map(attrgetter("lifts"), tests), len(tests))
    return FlowTest(
        side=first.side,
        valve=Valve(
            **_columns(valves, VALVE), seat=Seat(**_columns(seats, SEAT)) if seats[0] else None
        ),
        uncertainty=_uncertainties(tests),
        lifts=lifts,
        runs=tuple(chain.from_iterable(map(attrgetter("runs"), tests))),
        leakage_pressure=np.where(np.isnan(leaking), numbers["test_pressure"], leaking),
        fitted_standard=_fitted(tests),
        **{"port_area": None} | numbers,
    )


def _uncertainties(tests: Sequence[FlowTest]) -> Uncertainties:
    """Stated uncertainties of tests as columns, 0 for unknown ones."""
    stated = [test.uncertainty.numbers() for test in tests]
    table = _numbers((numbers.values() for numbers in stated), len(tests))
    return Uncertainties(**dict(zip(stated[0], table.T[:, :, np.newaxis], strict=True)))


def _fitted(tests: Sequence[FlowTest]) -> Array:
    """By the fits of their calibrations' points, where there are any."""
    if all(test.fitted is None for test in tests):
        return 0.0
    lifts = len(tests[0].lifts)
    return np.array([np.broadcast_to(test.fitted_standard, lifts) for test in tests])


def _columns(things: Sequence[object], names: Sequence[str]) -> dict[str, Any]:
    """Each of these numbers of things as a column."""
    table = _numbers(map(attrgetter(*names), things), len(things))
    return dict(zip(names, table.T[:, :, np.newaxis], strict=True))


def _numbers(rows: Iterable[Iterable[float]], count: int) -> Array:
    """So many rows of numbers as an array, without a list of them in between."""
    return np.fromiter(chain.from_iterable(rows), float).reshape(count, -1)


def _cut_out(test: FlowTest, block: Reduction, row: int) -> Reduction:
    """One session's figures."""
    arrays = {name: getattr(block, name) for name in ARRAYS}
    rows: Any = {name: None if array is None else array[row] for name, array in arrays.items()}
    components = (getattr(block.budget, name) for name in Budget.__slots__)
    return Reduction(
        test=test,
        air_density=float(block.air_density[row, 0]),  # type: ignore[index]
        budget=Budget(*(component[row] for component in components)),
        terms=block.terms.row(row),
        **rows,
    )
