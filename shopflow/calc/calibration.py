"""A bench's calibration by points: what it reads against a reference, fitted by a line or curve."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import lru_cache

import numpy as np

from shopflow.calc.array_types import Array, Floats
from shopflow.calc.flowtest import FittedCalibration, FlowTest
from shopflow.calc.polynomial import PolynomialFit, fit_polynomial
from shopflow.calc.uncertainty import COVERAGE_FACTOR
from shopflow.texts import gettext, lazy

STEPS = 200
"""Places between the ends of a calibration at which it must rise."""


class CalibrationModel(StrEnum):
    """Line or curve through the points of a calibration."""

    LINE = "line"
    QUADRATIC = "quadratic"
    CUBIC = "cubic"

    @property
    def degree(self) -> int:
        """Degree of the polynomial."""
        return list(CalibrationModel).index(self) + 1

    @property
    def fewest(self) -> int:
        """Points needed so that the fit can be checked too."""
        return self.degree + 2


@dataclass(frozen=True)
class CalibrationCurve:
    """True flow over the flow a bench indicates.

    Beyond its points it holds the factor, and the relative uncertainty, of the nearest one.
    """

    readings: tuple[float, ...]
    """Indicated flow at each point, m3/s, rising."""

    flows: tuple[float, ...]
    """The reference's at each, m3/s."""

    standards: tuple[float, ...]
    """Standard uncertainty of each of those, m3/s."""

    model: CalibrationModel
    fit: PolynomialFit

    @property
    def key(self) -> Hashable:
        """The points and what runs through them."""
        return self.readings, self.flows, self.standards, self.model

    @property
    def span(self) -> tuple[float, float]:
        """Least and greatest indicated flow of its points, m3/s."""
        return self.readings[0], self.readings[-1]

    def true_flow(self, indicated: Array) -> Floats:
        """The flow that a reading stands for, m3/s."""
        inside, beyond = self._inside(indicated)
        return np.asarray(self.fit.at(inside) * beyond)

    def slope(self, indicated: Array) -> Floats:
        """Change of the true flow per change of the indicated flow."""
        inside, beyond = self._inside(indicated)
        constant = self.fit.at(inside) / inside
        return np.where(beyond == 1.0, self.fit.slope(inside), constant)

    def errors(self, indicated: Array) -> Floats:
        """Each independent standard error of the fit in the true flow, m3/s; a row an error."""
        inside, beyond = self._inside(indicated)
        return np.asarray(self.fit.errors(inside) * beyond)

    def standard(self, indicated: Array) -> Floats:
        """Standard uncertainty of the true flow by the fit, m3/s."""
        return np.asarray(np.linalg.norm(self.errors(indicated), axis=0))

    def _inside(self, indicated: Array) -> tuple[Floats, Floats]:
        """The nearest reading among the points' span, and what a reading is of it."""
        reading = np.asarray(indicated, dtype=float)
        inside = np.clip(reading, *self.span)
        return inside, reading / inside


@lru_cache(maxsize=256)
def calibration_curve(
    readings: tuple[float, ...],
    flows: tuple[float, ...],
    relative: tuple[float, ...],
    model: CalibrationModel,
) -> CalibrationCurve:
    """The calibration through points.

    Parameters
    ----------
    readings : indicated flow at each point, m3/s, above 0 and rising
    flows : the reference's flow at each, m3/s
    relative : expanded (k = 2) relative uncertainty of each of those, above 0
    model : what runs through them

    Raises
    ------
    ValueError where the points are too few, or the curve through them is not above 0 and rising

    Notes
    -----
    Errors of the points are taken as independent, readings as exact: a reading's own scatter
    belongs into its point's uncertainty. What all points share belongs into the uncertainty of the
    calibration as a whole, and is not lessened by more points.
    Source: ISO/TS 28037:2010, clauses 6 and 11; ISO/TS 28038:2018.

    Examples
    --------
    A bench that reads 2 % low at the bottom and 1 % high at the top of its range:

    >>> curve = calibration_curve((0.02, 0.05, 0.08), (0.0204, 0.0503, 0.0792), (0.01,) * 3,
    ...                           CalibrationModel.LINE)
    >>> round(float(curve.true_flow(0.05)), 3), curve.fit.fits
    (0.05, True)
    """
    if len(readings) < model.fewest:
        raise ValueError(
            gettext(
                "a {curve} needs {points} points or more",
                curve=NAMES[model],
                points=model.fewest,
            )
        )
    standards = tuple(
        flow * part / COVERAGE_FACTOR for flow, part in zip(flows, relative, strict=True)
    )
    with np.errstate(all="ignore"):
        fit = fit_polynomial(readings, flows, standards, model.degree)
        curve = CalibrationCurve(readings, flows, standards, model, fit)
        places = np.linspace(*curve.span, STEPS)
        rises = bool((fit.at(places) > 0.0).all() and (fit.slope(places) > 0.0).all())
    if not rises:
        raise ValueError(
            gettext(
                "the {curve} through these points does not rise all the way: check them, or choose "
                "a simpler one",
                curve=NAMES[model],
            )
        )
    return curve


NAMES = {
    CalibrationModel.LINE: lazy("straight line"),
    CalibrationModel.QUADRATIC: lazy("curve of the second degree"),
    CalibrationModel.CUBIC: lazy("curve of the third degree"),
}


def described(curve: CalibrationCurve) -> str:
    """The calibration in a few words, as "straight line through 5 points"."""
    return gettext(
        "{curve} through {points} points", curve=NAMES[curve.model], points=len(curve.readings)
    )


def doubts(curve: CalibrationCurve) -> str:
    """Faults of a fit, in words; empty where the points lie as near as they say."""
    fit = curve.fit
    if fit.fits:
        return ""
    worst = 1 + int(np.argmax(np.abs(normalized_residuals(curve))))
    numbers = {
        "curve": NAMES[curve.model],
        "chi_squared": fit.chi_squared,
        "freedom": fit.freedom,
        "worst": worst,
        "times": fit.enlargement,
    }
    if curve.model is CalibrationModel.CUBIC:
        return gettext(
            "the points lie farther from the {curve} than their uncertainties allow (chi-squared "
            "{chi_squared:.1f} with {freedom} degrees of freedom), point {worst} the farthest; "
            "check the points and their ±. The uncertainty of the calibration is enlarged "
            "{times:.1f} times",
            **numbers,
        )
    return gettext(
        "the points lie farther from the {curve} than their uncertainties allow (chi-squared "
        "{chi_squared:.1f} with {freedom} degrees of freedom), point {worst} the farthest; check "
        "the points and their ±, or choose a higher curve. The uncertainty of the calibration is "
        "enlarged {times:.1f} times",
        **numbers,
    )


def normalized_residuals(curve: CalibrationCurve) -> Sequence[float]:
    """Reference less fit at each point, over that point's standard uncertainty."""
    off = np.asarray(curve.flows) - curve.fit.at(curve.readings)
    return [float(residual) for residual in off / np.asarray(curve.standards)]


def calibrated(test: FlowTest, curve: CalibrationCurve) -> FlowTest:
    """A test whose readings are indicated flows, with the true flows that a calibration gives.

    Parameters
    ----------
    test : as indicated, its calibration factor 1
    curve : of the bench's range

    Notes
    -----
    The flow through the head is the true flow less the true leakage, so that what the fit is off
    by counts at the one less that at the other. Scatter, division and leakage's uncertainty are of
    readings, and turn into flows by the curve's slope there.
    """
    means = np.array([np.mean(row) for row in test.runs])
    leaks = test.leakage * np.sqrt(_pressures(test) / (test.leakage_pressure or test.test_pressure))
    errors = curve.errors(means) - curve.errors(leaks)
    errors = errors / (curve.true_flow(means) - curve.true_flow(leaks))
    fitted = FittedCalibration(
        errors=tuple(map(tuple, errors.tolist())),
        span=(float(curve.fit.at(curve.span[0])), float(curve.fit.at(curve.span[1]))),
        key=curve.key,
        words=described(curve),
        doubts=doubts(curve),
    )
    stated, slope = test.uncertainty, float(curve.slope(test.leakage))
    leak = None if stated.leakage is None else stated.leakage * slope
    divisions = None if test.divisions is None else curve.slope(means) * test.divisions
    return replace(
        test,
        runs=tuple(tuple(curve.true_flow(row).tolist()) for row in test.runs),
        leakage=float(curve.true_flow(test.leakage)),
        uncertainty=replace(stated, leakage=leak),
        divisions=None if divisions is None else tuple(divisions.tolist()),
        fitted=fitted,
        fitted_standard=tuple(np.linalg.norm(errors, axis=0).tolist()),
    )


def _pressures(test: FlowTest) -> Floats:
    """Pressure across the head at each lift, the mean of its runs', Pa."""
    if test.run_pressures is None:
        return np.full(len(test.lifts), test.test_pressure)
    return np.array([np.mean(row) for row in test.run_pressures])
