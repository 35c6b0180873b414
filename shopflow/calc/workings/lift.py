"""The working of every result of a flow test at one of its lifts."""

from __future__ import annotations

from collections.abc import Iterator

from shopflow.calc import results
from shopflow.calc.components import budget_at
from shopflow.calc.reduction import Reduction
from shopflow.calc.workings import in_numbers
from shopflow.calc.workings.working import Working, curve_in_numbers, si
from shopflow.texts import gettext
from shopflow.units import UnitSystem


def workings(reduction: Reduction, index: int, units: UnitSystem) -> Iterator[Working]:
    """The workings at one of a test's lifts, from 0, in the reader's units."""
    yield _density(reduction, units)
    for row, numbers in results.with_working():
        column = row.of(reduction)
        if column is not None:
            value = float(column[index])
            text = units.text(value, row.kind) if row.kind else f"{value:.3f}"
            yield Working(
                row.anchor, row.name, row.formula, numbers(reduction, index), text, row.source
            )
    yield _uncertainty(reduction, index, units)
    yield _mean(reduction, units)


def _density(reduction: Reduction, units: UnitSystem) -> Working:
    test = reduction.test
    return Working(
        "density",
        gettext("Air density"),
        "ρ = p Mₐ (1 − 0.3780 xᵥ) ÷ (Z R T)",
        gettext(
            "p {barometer} Pa, T {temperature:.2f} K, humidity {humidity:.0f} %: ρ = "
            "{air_density} kg/m³",
            barometer=si(test.barometer),
            temperature=test.temperature,
            humidity=100.0 * test.humidity,
            air_density=si(reduction.air_density),
        ),
        units.text(reduction.air_density, "density"),
        gettext(
            "CIPM-2007: Picard et al., Metrologia 45 (2008) 149; for 600 to 1100 hPa, 15 to 27 °C"
        ),
    )


def _uncertainty(reduction: Reduction, index: int, units: UnitSystem) -> Working:
    budget = budget_at(reduction, index)
    return Working(
        "uncertainty",
        gettext("Expanded uncertainty of the flow as tested"),
        gettext("U = k × √(sum of the squares of the components), k for 95 %"),
        in_numbers.uncertainty(reduction, index),
        units.text(budget.expanded, "flow") if budget.is_stated else gettext("not stated"),
        gettext("JCGM 100:2008, 5.1.2 and G.4.1"),
    )


def _mean(reduction: Reduction, units: UnitSystem) -> Working:
    curve = curve_in_numbers(reduction.lifts, reduction.flow)
    return Working(
        "mean",
        gettext("Mean flow over all lifts, by the root"),
        gettext("area under the curve, straight from point to point ÷ (last − first lift)"),
        gettext(
            "m³/s: {curve}; mean {mean_flow} m³/s", curve=curve, mean_flow=si(reduction.mean_flow)
        ),
        units.text(reduction.mean_flow, "flow"),
        gettext("trapezoid rule"),
    )
