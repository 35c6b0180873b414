"""Views of a fitted calibration or leak test: drawing, residuals and doubts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from markupsafe import Markup

from shopflow.calc.calibration import (
    NAMES,
    CalibrationCurve,
    described,
    doubts,
    normalized_residuals,
)
from shopflow.calc.leakage import LeakageCurve
from shopflow.calc.uncertainty import COVERAGE_FACTOR
from shopflow.charts import Axis, Band, Chart, Series
from shopflow.models import BenchRange, Calibration, LeakTest
from shopflow.services.bench import calibration_points, leak_tests
from shopflow.texts import gettext, ngettext
from shopflow.units import pretty, to_si
from shopflow.web.drawing import draw

STEPS = 40
"""Places along a curve that is drawn."""


@dataclass(frozen=True)
class FitRow:
    """One point and the fit there, as a page shows them."""

    reading: str
    flow: str
    stated: str
    fitted: str
    residual: str
    ratio: str
    """Residual over the point's own ±."""

    is_far: bool


@dataclass(frozen=True)
class FitView:
    """A calibration by points on a page."""

    words: str
    doubts: str
    check: str
    drawing: Markup
    rows: list[FitRow]
    reading_unit: str
    flow_unit: str


@dataclass(frozen=True)
class LeakView:
    """A leak test on a page."""

    words: str
    doubts: str
    drawing: Markup
    rows: list[tuple[str, str, str]]
    pressure_unit: str
    leakage_unit: str


def of_calibration(calibration: Calibration) -> FitView | None:
    """The view of a calibration on record; None for one by a factor."""
    columns = {name: getattr(calibration, name) for name in calibration_points.FIELDS}
    return of_columns(calibration.range, columns)


def of_columns(bench_range: BenchRange, columns: Mapping[str, Any]) -> FitView | None:
    """The view of a calibration's columns; None for one by a factor."""
    curve = calibration_points.curve(bench_range, columns)
    if curve is None:
        return None
    fit = curve.fit
    return FitView(
        words=described(curve),
        doubts=doubts(curve),
        check=gettext(
            "Chi-squared is {chi_squared:.2f} with {plural} of freedom: points on a {names} would "
            "be as far from it in {chance:.0f} % of cases. Below 5 % the fit is not good (ISO/TS "
            "28037:2010, ISO/TS 28038:2018).",
            chi_squared=fit.chi_squared,
            plural=ngettext("{num} degree", "{num} degrees", fit.freedom),
            names=NAMES[curve.model],
            chance=100.0 * fit.chance,
        ),
        drawing=_calibration_drawing(curve, columns),
        rows=_calibration_rows(curve, columns),
        reading_unit=pretty(columns["reading_unit"]),
        flow_unit=pretty(columns["flow_unit"]),
    )


def of_leak_test(row: LeakTest) -> LeakView:
    """The view of a leak test on record."""
    names = ("pressure_unit", "pressures", "leakage_unit", "leakages", "expanded_uncertainty")
    return of_leaks({name: getattr(row, name) for name in names})


def of_leaks(columns: Mapping[str, Any]) -> LeakView:
    """The view of a leak test's columns."""
    curve = leak_tests.curve(columns)
    fitted = [curve.at(pressure) for pressure in curve.pressures]
    rows = [
        (str(pressure), str(leakage), f"{fit:.3g}")
        for pressure, leakage, fit in zip(
            columns["pressures"], columns["leakages"], fitted, strict=True
        )
    ]
    return LeakView(
        words=leak_tests.words(curve),
        doubts=leak_tests.doubts(curve),
        drawing=_leak_drawing(curve, columns),
        rows=rows,
        pressure_unit=pretty(columns["pressure_unit"]),
        leakage_unit=pretty(columns["leakage_unit"]),
    )


def _calibration_drawing(curve: CalibrationCurve, columns: Mapping[str, Any]) -> Markup:
    """True flow over the flow shown, which a table of flows would hide."""
    places = np.linspace(*curve.span, STEPS)
    middle = curve.true_flow(places) / places
    margin = COVERAGE_FACTOR * curve.standard(places) / places
    shown = float(columns["readings"][0]) / curve.readings[0]
    points = np.asarray(curve.flows) / curve.readings
    low, high = (middle - margin).tolist(), (middle + margin).tolist()
    band = Band("fit ± U", (places * shown).tolist(), low, middle.tolist(), high, low, high)
    series = Series(
        "points",
        [float(reading) for reading in columns["readings"]],
        points.tolist(),
        (COVERAGE_FACTOR * np.asarray(curve.standards) / curve.readings).tolist(),
        joined=False,
    )
    chart = Chart(
        title=gettext("The fit and its points"),
        x=Axis(gettext("Bench reads"), pretty(columns["reading_unit"])),
        y=Axis(gettext("True flow over what the bench reads")),
        series=[series],
        places=4,
        from_zero=False,
        bands=[band],
    )
    return draw(chart, "fit").drawing


def _calibration_rows(curve: CalibrationCurve, columns: Mapping[str, Any]) -> list[FitRow]:
    per_unit = to_si(1.0, columns["flow_unit"])
    fitted, ratios = curve.fit.at(curve.readings), normalized_residuals(curve)
    return [
        FitRow(
            reading=str(reading),
            flow=str(flow),
            stated=f"± {stated} %",
            fitted=f"{fitted_factor / per_unit:.2f}",
            residual=f"{100.0 * (true / fitted_factor - 1.0):+.2f} %".replace("-", "−"),
            ratio=f"{abs(ratio) / COVERAGE_FACTOR:.1f}",
            is_far=abs(ratio) > COVERAGE_FACTOR,
        )
        for reading, flow, stated, fitted_factor, true, ratio in zip(
            *(columns[name] for name in ("readings", "flows", "uncertainties")),
            *(fitted.tolist(), curve.flows, ratios),
            strict=True,
        )
    ]


def _leak_drawing(curve: LeakageCurve, columns: Mapping[str, Any]) -> Markup:
    per_unit = to_si(1.0, columns["pressure_unit"])
    places = np.geomspace(curve.pressures[0], curve.pressures[-1], STEPS)
    middle = [curve.at(place) for place in places.tolist()]
    margin = [COVERAGE_FACTOR * curve.standard(place) for place in places.tolist()]
    low = [value - part for value, part in zip(middle, margin, strict=True)]
    high = [value + part for value, part in zip(middle, margin, strict=True)]
    band = Band("curve ± U", (places / per_unit).tolist(), low, middle, high, low, high)
    series = Series(
        "points",
        [float(pressure) for pressure in columns["pressures"]],
        list(curve.leakages),
        [COVERAGE_FACTOR * curve.relative * leakage for leakage in curve.leakages],
        joined=False,
    )
    chart = Chart(
        title=gettext("Leakage against test pressure"),
        x=Axis(gettext("Test pressure"), pretty(columns["pressure_unit"])),
        y=Axis(gettext("Leakage"), pretty(columns["leakage_unit"])),
        series=[series],
        places=3,
        bands=[band],
    )
    return draw(chart, "leak").drawing
