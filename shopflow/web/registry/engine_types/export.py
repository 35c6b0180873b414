"""Past results as rows for a spreadsheet, in the shop's units."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from shopflow.calc.standard_flow import STANDARD_DENSITY
from shopflow.services.bench.bands import Ranking
from shopflow.services.bench.past_tests import Result
from shopflow.spreadsheet import Cell
from shopflow.texts import gettext
from shopflow.units import from_si
from shopflow.web.context import local_zone, system


def header() -> list[str]:
    """The columns' names, each with its unit."""
    flow, length = system().unit("flow"), system().unit("length")
    units = {"flow": flow, "length": length, "area": system().unit("port area")}
    return [
        gettext("place"), gettext("job"), gettext("head"), gettext("customer"),
        gettext("engine type"), gettext("purpose"), gettext("tested"), gettext("side"),
        gettext("stage"), gettext("cylinder"), gettext("valve head, {length}", **units),
        gettext("valves"), gettext("throat ratio"), gettext("seat angle, deg"),
        gettext("port area, {area}", **units),
        gettext(
            "mean flow at 28 inH2O in air of {density} kg/m3, {flow}",
            density=STANDARD_DENSITY, **units,
        ),
        gettext("mean over shared lifts, {flow}", **units), gettext("peak flow, {flow}", **units),
        gettext("mean effective area, mm2"), gettext("mean effective area over shared lifts, mm2"),
        gettext("peak effective area, mm2"), gettext("greatest Cd head"),
        gettext("mean Cd curtain to L/D 0.15"),
        gettext("mean velocity, {velocity}", velocity=system().unit("velocity")),
    ]  # fmt: skip


def rows(ranking: Ranking) -> Iterator[list[Cell]]:
    """One row a test, the best first."""
    for ranked in ranking.ranked:
        test = ranked.result
        shared = bool(ranking.lifts)
        yield [
            ranked.place,
            *_identity(test),
            _in(test.valve_diameter, "length"),
            test.valve_count,
            _rounded(test.throat_ratio),
            _rounded(test.seat_angle),
            _in(test.setup.port_area, "port area"),
            _in(test.mean_flow, "flow"),
            _in(ranked.mean_flow if shared else None, "flow"),
            _in(test.peak_flow, "flow"),
            _mm2(test.mean_area),
            _mm2(ranked.mean if shared else None),
            _mm2(test.peak_area),
            _rounded(test.peak_coefficient),
            _rounded(test.low_lift_coefficient),
            _in(test.mean_velocity, "velocity"),
        ]


def _identity(test: Result) -> list[Cell]:
    day = test.tested.astimezone(local_zone()).date().isoformat()
    return [
        test.job, test.tag, test.customer, test.engine_type, test.purpose, day, test.side,
        test.stage, test.cylinder,
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
