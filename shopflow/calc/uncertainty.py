"""Uncertainty of a flow: its components and their sum, after JCGM 100:2008."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import reduce
from itertools import chain

import numpy as np
from numpy.typing import NDArray

from shopflow.calc.array_types import Array, Floats

COVERAGE_FACTOR = 2.0
"""k of every expanded uncertainty here (JCGM 100:2008, 6.2.1)."""


@dataclass(frozen=True, slots=True)
class Uncertainties:
    """Uncertainties that a test states itself: relative, but for lift and leakage.

    None is unknown; 0 was stated.
    """

    calibration: float | None = None
    """Expanded, with coverage factor 2."""

    repeatability: float | None = None
    """Standard, of one reading."""

    pressure: float | None = None
    """Standard, of the test pressure."""

    lift: float | None = None
    """Standard, of the setting of the lift, m."""

    element: float = 0.0
    """Standard, of a metering element's coefficient where it is taken from a standard."""

    element_diameters: float = 0.0
    """Standard, of the flow by the bores of that element and its pipe."""

    element_expansion: float = 0.0
    """Standard, of that element's expansion factor."""

    reading_exponent: float = 1.0
    """Power of a reading that the flow varies with: a half where it is a pressure difference."""

    leakage: float | None = None
    """Standard, of the leakage as indicated where it was measured, m3/s."""

    density: float | None = None
    """Standard, of the room air's density."""

    day: float | None = None
    """Standard, of the bench on the day: shared by the tests of one bench and day. One that is not
    stated counts as none, so that tests of before it was stated can be compared."""

    head_diameter: float | None = None
    """Standard, of a size of valve, seat, throat or port: m, rad or m2."""

    stem_diameter: float | None = None
    seat_angle: float | None = None
    seat_width: float | None = None
    throat_diameter: float | None = None
    port_area: float | None = None

    def numbers(self) -> dict[str, Array]:
        """Each by its name, 0 for what is unknown, as the budget of a flow takes it."""
        values = {name: getattr(self, name) for name in self.__slots__}
        return {name: 0.0 if value is None else value for name, value in values.items()}


@dataclass(frozen=True, slots=True)
class Budget:
    """Relative standard uncertainty of the flow at each lift, by component."""

    runs: Array
    calibration: Array
    pressure: Array
    lift: Array
    element: Array

    @property
    def common(self) -> Array:
        """Part of the uncertainty that two tests under one calibration share."""
        return root_sum_of_squares(self.calibration, self.element)

    @property
    def own(self) -> Array:
        """Everything but what two sessions under one calibration share."""
        return root_sum_of_squares(self.runs, self.pressure, self.lift)

    @property
    def combined(self) -> Array:
        """All components together."""
        return root_sum_of_squares(
            self.runs, self.calibration, self.pressure, self.lift, self.element
        )

    @property
    def is_stated(self) -> bool:
        """True where there is an uncertainty at every lift: without one none is shown."""
        return bool((self.combined > 0.0).all())


def root_sum_of_squares(*components: Array) -> Array:
    """Combined standard uncertainty of components that do not depend on one another.

    Parameters
    ----------
    components : standard uncertainties of the result, all in one unit or all relative

    Returns
    -------
    in that unit

    Notes
    -----
    Source: JCGM 100:2008, equation 11a (5.1.3).

    Examples
    --------
    JCGM 100:2008, G.4.1, has 0.25, 0.57 and 0.82 % make 1.03 %:

    >>> round(float(root_sum_of_squares(0.25, 0.57, 0.82)), 2)
    1.03
    """
    # Squares of very small components would vanish.
    return reduce(np.hypot, components, 0.0)


@dataclass(frozen=True, slots=True)
class RunStatistics:
    """Of the repeated runs at each lift."""

    counts: NDArray[np.intp]
    mean: Floats
    standard_error: Floats
    """Standard uncertainty of the mean; zero where one run says nothing of it."""

    def shaped(self, shape: tuple[int, ...]) -> RunStatistics:
        """The same, the rows in another shape: of many sessions a row of lifts each."""
        return RunStatistics(
            self.counts.reshape(shape),
            self.mean.reshape(shape),
            self.standard_error.reshape(shape),
        )


def run_statistics(runs: Sequence[Sequence[float]]) -> RunStatistics:
    r"""Mean of the runs in each row and its standard uncertainty.

    .. math:: u(\bar x) = s / \sqrt n,\quad s^2 = \frac{1}{n-1} \sum (x_i - \bar x)^2

    Parameters
    ----------
    runs : rows of one or more runs each, of any lengths

    Returns
    -------
    RunStatistics, every array over the rows

    Notes
    -----
    Source: JCGM 100:2008, 4.2.

    Examples
    --------
    JCGM 100:2008, 4.4.3: twenty temperatures, mean 100.145 (printed 100.14), s 1.489, u 0.333.

    >>> readings = [96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07, 100.33,
    ...             100.42, 100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72]
    >>> of = run_statistics([readings])
    >>> round(float(of.mean[0]), 3), round(float(of.standard_error[0]), 3)
    (100.145, 0.333)
    """
    counts = np.fromiter(map(len, runs), dtype=np.intp, count=len(runs))
    every = np.fromiter(chain.from_iterable(runs), dtype=float, count=int(counts.sum()))
    starts = np.cumsum(counts) - counts
    mean = np.add.reduceat(every, starts) / counts
    squares = np.add.reduceat((every - np.repeat(mean, counts)) ** 2, starts)
    error = np.sqrt(squares / np.maximum(counts - 1, 1) / counts)
    return RunStatistics(counts, mean, error)


def element_share(numbers: Mapping[str, Array]) -> Array:
    """Relative standard uncertainty of a flow by its metering element, all shares together.

    Parameters
    ----------
    known : relative standard uncertainties by their input's name

    Returns
    -------
    relative standard uncertainty, no unit

    Examples
    --------
    >>> shares = {"element": 0.02, "element_diameters": 0.01, "element_expansion": 0.02}
    >>> round(float(element_share(shares)), 12)
    0.03
    """
    return root_sum_of_squares(
        *(numbers[name] for name in ("element", "element_diameters", "element_expansion"))
    )


def flow_budget(
    runs: RunStatistics,
    leakage: Array,
    flow: Array,
    slope: Array,
    stated: Uncertainties,
    points: Array = 0.0,
) -> Budget:
    r"""Relative standard uncertainty of a corrected flow, by component.

    Parameters
    ----------
    runs : of the indicated flow at each lift, m3/s
    leakage : as indicated, m3/s
    flow : at reference pressure, m3/s
    slope : of that flow over lift, m2/s
    stated : what the session states
    points : relative standard uncertainty of the flow by the fit of its calibration's points

    Returns
    -------
    Budget, each component over the lifts

    Notes
    -----
    Runs: the standard error of their mean, or the stated repeatability where there is one run,
    over the flow less the leakage. Calibration: half of what is stated with k = 2, and the fit's
    of its points. Pressure: half, since the flow varies with its root. Lift: the curve's slope
    times the lift's uncertainty. Element: its coefficient's, diameters' and expansion's, as its
    standard states them. The repeatability is of a reading: where that is a pressure difference
    the flow has half of it. The leakage is taken as exact.
    Source: JCGM 100:2008, 5.1.

    Examples
    --------
    One run of 100 with 2 of leakage at 0.5 % repeatability: 0.5/98.

    >>> stated = Uncertainties(repeatability=0.005)
    >>> budget = flow_budget(run_statistics([[100.0]]), 2.0, 98.0, 0.0, stated)
    >>> round(float(budget.runs[0]), 6)
    0.005102
    """
    numbers = stated.numbers()
    single = numbers["reading_exponent"] * numbers["repeatability"] * runs.mean
    spread = np.where(runs.counts > 1, runs.standard_error, single)
    alike = np.ones_like(runs.mean)
    return Budget(
        runs=spread / (runs.mean - leakage),
        calibration=np.hypot(numbers["calibration"] / COVERAGE_FACTOR, points) * alike,
        pressure=0.5 * numbers["pressure"] * alike,
        lift=np.abs(slope) * numbers["lift"] / flow,
        element=element_share(numbers) * alike,
    )
