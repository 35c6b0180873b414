"""The working of every result of a flow test at one of its lifts."""

from __future__ import annotations

from collections.abc import Iterator

from shopflow.calc import results
from shopflow.calc.components import budget_at
from shopflow.calc.reduction import Reduction
from shopflow.calc.workings import in_numbers
from shopflow.calc.workings.working import Working, curve_in_numbers, si
from shopflow.units import UnitSystem


def workings(found: Reduction, place: int, units: UnitSystem) -> Iterator[Working]:
    """The workings at one of a test's lifts, from 0, in the reader's units."""
    yield _density(found, units)
    for row, numbers in results.with_working():
        column = row.of(found)
        if column is not None:
            value = float(column[place])
            shown = units.text(value, row.kind) if row.kind else f"{value:.3f}"
            yield Working(
                row.anchor, row.name, row.formula, numbers(found, place), shown, row.source
            )
    yield _uncertainty(found, place, units)
    yield _mean(found, units)


def _density(found: Reduction, units: UnitSystem) -> Working:
    test = found.test
    return Working(
        "density",
        "Air density",
        "ρ = p Mₐ (1 − 0.3780 xᵥ) ÷ (Z R T)",
        f"p {si(test.barometer)} Pa, T {test.temperature:.2f} K, humidity "
        f"{100.0 * test.humidity:.0f} %: ρ = {si(found.air_density)} kg/m³",
        units.text(found.air_density, "density"),
        "CIPM-2007: Picard et al., Metrologia 45 (2008) 149; for 600 to 1100 hPa, 15 to 27 °C",
    )


def _uncertainty(found: Reduction, place: int, units: UnitSystem) -> Working:
    budget = budget_at(found, place)
    return Working(
        "uncertainty",
        "Expanded uncertainty of the flow as tested",
        "U = k × √(sum of the squares of the components), k for 95 %",
        in_numbers.uncertainty(found, place),
        units.text(budget.expanded, "flow") if budget.is_stated else "not stated",
        "JCGM 100:2008, 5.1.2 and G.4.1",
    )


def _mean(found: Reduction, units: UnitSystem) -> Working:
    drawn = curve_in_numbers(found.lifts, found.flow)
    return Working(
        "mean",
        "Mean flow over all lifts, by the root",
        "area under the curve, straight from point to point ÷ (last − first lift)",
        f"m³/s: {drawn}; mean {si(found.mean_flow)} m³/s",
        units.text(found.mean_flow, "flow"),
        "trapezoid rule",
    )
