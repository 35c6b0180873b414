"""Past results as rows for a spreadsheet, in the shop's units."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from shopflow.calc.standard_flow import STANDARD_DENSITY
from shopflow.services.bench.bands import Ranking
from shopflow.services.bench.results import Result
from shopflow.spreadsheet import Cell
from shopflow.units import from_si
from shopflow.web.context import local_zone, system


def header() -> list[str]:
    """The columns' names, each with its unit."""
    flow, length = system().unit("flow"), system().unit("length")
    return [
        "place", "job", "head", "customer", "engine type", "purpose", "tested", "side", "stage",
        "cylinder", f"valve head, {length}", "valves", "throat ratio", "seat angle, deg",
        f"port area, {system().unit('port area')}",
        f"mean flow at 28 inH2O in air of {STANDARD_DENSITY} kg/m3, {flow}",
        f"mean over shared lifts, {flow}", f"peak flow, {flow}",
        "mean effective area, mm2", "mean effective area over shared lifts, mm2",
        "peak effective area, mm2",
        "greatest Cd head", "mean Cd curtain to L/D 0.15",
        f"mean velocity, {system().unit('velocity')}",
    ]  # fmt: skip


def rows(ranking: Ranking) -> Iterator[list[Cell]]:
    """One row a test, the best first."""
    for ranked in ranking.ranked:
        found = ranked.result
        shared = bool(ranking.lifts)
        yield [
            ranked.place,
            *_what(found),
            _in(found.valve_diameter, "length"),
            found.valve_count,
            _rounded(found.throat_ratio),
            _rounded(found.seat_angle),
            _in(found.setup.port_area, "port area"),
            _in(found.mean_flow, "flow"),
            _in(ranked.mean_flow if shared else None, "flow"),
            _in(found.peak_flow, "flow"),
            _mm2(found.mean_area),
            _mm2(ranked.mean if shared else None),
            _mm2(found.peak_area),
            _rounded(found.peak_coefficient),
            _rounded(found.low_lift_coefficient),
            _in(found.mean_velocity, "velocity"),
        ]


def _what(found: Result) -> list[Cell]:
    day = found.tested.astimezone(local_zone()).date().isoformat()
    return [
        found.job, found.tag, found.customer, found.engine_type, found.purpose, day, found.side,
        found.stage, found.cylinder,
    ]  # fmt: skip


def _in(si: float | None, kind: str) -> float | None:
    return _rounded(si, lambda value: from_si(value, system().unit(kind)))


def _mm2(area: float | None) -> float | None:
    return _rounded(area, lambda value: from_si(value, "mm2"))


def _rounded(
    value: float | None, convert: Callable[[float], float] = lambda value: value
) -> float | None:
    """Six digits, which is more than any bench tells."""
    return None if value is None else float(f"{convert(value):.6g}")
