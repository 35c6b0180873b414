"""Many bench sessions reduced together, their figures in arrays of one row a session."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from operator import attrgetter
from typing import Any, overload

import numpy as np

from shopflow.calc.air import density
from shopflow.calc.areas import Seat, Valve
from shopflow.calc.curve import means_over_lift
from shopflow.calc.kinds import Array
from shopflow.calc.reduction import Curve, FlowTest, Reduction, reduce, reduce_arrays
from shopflow.calc.uncertainty import Budget, Uncertainties

NUMBERS = ("barometer", "temperature", "humidity", "test_pressure", "reference_pressure",
           "calibration_factor", "leakage", "leakage_pressure", "air_correction")  # fmt: skip
VALVE = ("valve.head_diameter", "valve.count")
SEAT = tuple(f"valve.seat.{name}" for name in Seat.__slots__)
STATED = tuple(f"uncertainty.{name}" for name in Uncertainties.__slots__)
ARRAYS = ("lifts", "run_counts", "flow", "mass_flow", "effective_area", "cd_curtain", "cd_head",
          "cd_least_area", "velocity", "kinetic_energy_flux")  # fmt: skip


@dataclass(frozen=True)
class Reductions(Sequence[Reduction]):
    """The reductions of many sessions, each cut out of its arrays when it is asked for."""

    tests: Sequence[FlowTest]
    _where: Sequence[tuple[Reduction, int | None]]
    """For each session the arrays it is in, and its row; none for one reduced alone."""

    def __len__(self) -> int:
        return len(self.tests)

    def curves(self) -> list[Curve]:
        """The curve of each session, without the rest of its figures being cut out."""
        wholes = {id(whole): whole for whole, row in self._where if row is not None}
        cut = {key: _curves(whole) for key, whole in wholes.items()}
        return [whole.curve if row is None else cut[id(whole)][row] for whole, row in self._where]

    @overload
    def __getitem__(self, place: int) -> Reduction: ...
    @overload
    def __getitem__(self, place: slice) -> list[Reduction]: ...
    def __getitem__(self, place: int | slice) -> Reduction | list[Reduction]:
        if isinstance(place, slice):
            return [self[one] for one in range(*place.indices(len(self)))]
        whole, row = self._where[place]
        return whole if row is None else _cut_out(self.tests[place], whole, row)


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
    Sessions of one side with as many lifts, and alike in what they state, are worked out in one
    go by the same formulas; a session whose runs have pressures of their own is worked out alone.
    """
    where: list[Any] = [None] * len(tests)
    alike: dict[tuple[object, ...], list[int]] = {}
    for place, test in enumerate(tests):
        if test.run_pressures is None:
            kind = (test.side, len(test.lifts), test.valve.seat is None, test.port_area is None)
            alike.setdefault(kind, []).append(place)
        else:
            where[place] = reduce(test), None
    for places in alike.values():
        whole = _together([tests[place] for place in places])
        for row, place in enumerate(places):
            where[place] = whole, row
    return Reductions(tests, where)


def _together(tests: Sequence[FlowTest]) -> Reduction:
    with np.errstate(all="ignore"):
        stacked = _stacked(tests)
        rho = density(stacked.barometer, stacked.temperature, stacked.humidity)
        whole = reduce_arrays(stacked, rho)
        if not (np.isfinite(rho).all() and (rho > 0.0).all() and whole.is_workable):
            for test in tests:
                # The one at fault says what is wrong with it.
                reduce(test)
    return whole


def _stacked(tests: Sequence[FlowTest]) -> FlowTest:
    """Sessions that are alike as one, each number a column of as many rows."""
    first = tests[0]
    seat = () if first.valve.seat is None else SEAT
    port = () if first.port_area is None else ("port_area",)
    names = (*NUMBERS, *VALVE, *STATED, *seat, *port)
    table = np.array(list(map(attrgetter(*names), tests)), dtype=float)
    of: dict[str, Array] = dict(zip(names, table.T[:, :, np.newaxis], strict=True))
    unsaid = np.isnan(of["leakage_pressure"])
    of["leakage_pressure"] = np.where(unsaid, of["test_pressure"], of["leakage_pressure"])
    lifts: Any = np.array([test.lifts for test in tests], dtype=float)
    return FlowTest(
        side=first.side,
        valve=Valve(
            head_diameter=of["valve.head_diameter"],
            count=of["valve.count"],
            seat=Seat(*(of[name] for name in seat)) if seat else None,
        ),
        uncertainty=Uncertainties(*(of[name] for name in STATED)),
        lifts=lifts,
        runs=tuple(runs for test in tests for runs in test.runs),
        port_area=of.get("port_area"),
        **{name: of[name] for name in NUMBERS},
    )


def _curves(whole: Reduction) -> list[Curve]:
    """The curve in each row of a whole's arrays."""
    stated: Any = whole.test.reference_pressure
    means, peaks = means_over_lift(whole.lifts, whole.flow), whole.flow.max(axis=-1)
    columns = (stated[:, 0].tolist(), means.tolist(), peaks.tolist(), whole.lifts, whole.flow)
    return [Curve(*row) for row in zip(*columns, strict=True)]


def _cut_out(test: FlowTest, whole: Reduction, row: int) -> Reduction:
    """One session's figures."""
    arrays = {name: getattr(whole, name) for name in ARRAYS}
    rows: Any = {name: None if array is None else array[row] for name, array in arrays.items()}
    components = (getattr(whole.budget, name) for name in Budget.__slots__)
    return Reduction(
        test=test,
        air_density=float(whole.air_density[row, 0]),  # type: ignore[index]
        budget=Budget(*(component[row] for component in components)),
        **rows,
    )
