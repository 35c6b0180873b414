"""Columns of the table for a simulation: their values, and their words in the README."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from shopflow.calc import results
from shopflow.calc.result import Result
from shopflow.calc.simulation_results import CD_PORT, CD_SEAT, CD_THROAT
from shopflow.simulation.port import TestedPort
from shopflow.spreadsheet import Cell
from shopflow.texts import gettext, lazy

MM, MM2 = 1e3, 1e6


@dataclass(frozen=True)
class Column:
    """One column: its heading, its cells over the lifts of a test, and its definition."""

    name: str
    cells: Callable[[TestedPort], list[Cell]]
    words: str

    def __str__(self) -> str:
        return f"{self.name}: {self.words}"


def _of_test(name: str, value: Callable[[TestedPort], Cell], words: str) -> Column:
    """A column with one value for a whole test."""
    return Column(name, lambda port: [value(port)] * len(port.reduction.lifts), words)


def _of_result(name: str, result: Result, scale: float = 1.0) -> Column:
    """A column of a result of the registry, with its formula and its source."""

    def cells(port: TestedPort) -> list[Cell]:
        values = result.of(port.reduction)
        if values is None:
            return [None] * len(port.reduction.lifts)
        return [_number(value, scale) for value in values.tolist()]

    words = lazy(
        "{name}: {formula}. Source: {source}.",
        name=result.name,
        formula=result.formula,
        source=result.source,
    )
    return Column(name, cells, words)


def _number(value: float | bool, scale: float) -> Cell:
    if isinstance(value, bool):
        return "yes" if value else "no"
    # A length in mm without the last digit of its way through metres.
    return value if scale == 1.0 else float(f"{value * scale:.15g}")


COLUMNS: tuple[Column, ...] = (
    _of_test("test", lambda port: port.number, lazy("number of the flow test, as listed above")),
    _of_test("side", lambda port: port.document.side, lazy("intake or exhaust port")),
    _of_test(
        "direction",
        lambda port: port.direction,
        lazy("direction of the flow: into cylinder or out of cylinder"),
    ),
    _of_test(
        "cylinder", lambda port: port.document.cylinder, lazy("cylinder of the port, as entered")
    ),
    _of_result("lift_mm", results.LIFT, MM),
    _of_result("lift_over_diameter", results.DEPTH),
    _of_test(
        "pressure_ratio",
        lambda port: port.pressure_ratio,
        lazy("static pressure downstream ÷ stagnation pressure upstream, p₁ ÷ p₀"),
    ),
    _of_result("effective_area_mm2", results.EFFECTIVE_AREA, MM2),
    _of_result("effective_area_expanded_uncertainty_mm2", results.AREA_EXPANDED, MM2),
    _of_result("cd_curtain", results.CD_CURTAIN),
    _of_result("cd_head", results.CD_HEAD),
    _of_result("cd_least_area", results.CD_LEAST_AREA),
    _of_result("cd_throat", CD_THROAT),
    _of_result("cd_port", CD_PORT),
    _of_result("cd_seat", CD_SEAT),
    _of_test(
        "valve_head_diameter_mm",
        lambda port: _number(port.reduction.test.valve.head_diameter, MM),
        lazy("D, the diameter behind L/D and the areas of the coefficients"),
    ),
    _of_test(
        "valve_count",
        lambda port: port.reduction.test.valve.count,
        lazy("valves lifted together; the areas are those of all of them"),
    ),
    _of_test(
        "test_pressure_pa",
        lambda port: port.reduction.test.test_pressure,
        lazy("pressure difference across the head, p₀ − p₁"),
    ),
    _of_test(
        "upstream_pressure_pa", lambda port: port.pressures[0], lazy("p₀, stagnation pressure")
    ),
    _of_test(
        "upstream_temperature_k",
        lambda port: port.reduction.test.temperature,
        lazy("T₀, the temperature of the room's air"),
    ),
    _of_test(
        "upstream_density_kg_m3",
        lambda port: port.upstream_density,
        lazy("ρ₀ = density of the room's air (CIPM-2007) × p₀ ÷ barometer"),
    ),
    _of_result("mass_flow_kg_s", results.MASS_FLOW),
    _of_result("choked", results.CHOKED),
)


def needs_of_columns() -> list[str]:
    """Columns that may be empty, each with the input it needs, a line for each."""
    named = (
        ("effective_area_expanded_uncertainty_mm2", results.AREA_EXPANDED),
        ("cd_least_area, cd_throat, cd_seat", CD_SEAT),
        ("cd_port", CD_PORT),
    )
    return [
        gettext("{columns}: empty without {needs}", columns=columns, needs=result.needs)
        for columns, result in named
    ]
