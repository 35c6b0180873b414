"""The README of an export for simulation, in plain words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from textwrap import wrap

from shopflow.simulation.columns import COLUMNS, needs_of_columns
from shopflow.simulation.port import TestedPort, untested
from shopflow.texts import gettext, gettext_noop, translated

WIDTH = 88
TABLE, JSON, README = "effective-area.csv", "tests.json", "README.txt"

ABOUT = gettext_noop(
    "{table} has a row for each lift of each flow test: comma-separated, CRLF at the end of a "
    "row, UTF-8, a point as decimal mark (RFC 4180). {json} has the same tests in SI units under "
    "the keys of “shopflow reduce --json”."
)
USE = gettext_noop(
    "Mass flow at a row: m = A × √(2γ/(γ−1) p₀ ρ₀ (r^(2/γ) − r^((γ+1)/γ))) with A the effective "
    "area, r the pressure ratio (not below 0.528282, where the flow chokes) and γ 1.4. It gives "
    "the row's mass flow. A coefficient times its reference area is the same effective "
    "area: use one coefficient, with its own area."
)
LIMITS = (
    gettext_noop(
        "Only what was measured is here. Lifts beyond the last one, pressure ratios that were not "
        "tested and directions of flow that were not tested are not made up."
    ),
    gettext_noop(
        "A program that needs other pressure ratios may hold the effective area of a lift "
        "constant. That is the reader's assumption: nothing here shows that it holds."
    ),
    gettext_noop(
        "Tests are steady flow of room air at a low pressure difference. A running engine has "
        "hot, unsteady flow at larger ones."
    ),
)


def readme(ports: Sequence[TestedPort], at: datetime) -> str:
    """The README of these tests, its lines ending in CRLF."""
    return "\r\n".join(_lines(ports, at)) + "\r\n"


def _lines(ports: Sequence[TestedPort], at: datetime) -> Iterator[str]:
    yield gettext("Flow tests for engine simulation")
    yield gettext("Exported {at:%Y-%m-%d}.", at=at)
    yield ""
    yield from _paragraph(gettext(ABOUT, table=TABLE, json=JSON))
    yield gettext("Flow tests:")
    for port in ports:
        yield from _wrapped(_test(port))
    for side, direction in untested(ports):
        yield "  " + gettext(
            "{side}, {direction}: not tested, so not in the table",
            side=translated(side),
            direction=_direction(direction),
        )
    yield ""
    yield gettext("Columns:")
    for column in COLUMNS:
        yield from _wrapped(str(column))
    yield ""
    yield gettext("Columns that may be empty:")
    for text in needs_of_columns():
        yield from _wrapped(text)
    yield ""
    yield gettext("Use and limits:")
    for paragraph in (USE, *LIMITS):
        yield from _paragraph(gettext(paragraph))


def _paragraph(text: str) -> list[str]:
    return [*wrap(text, WIDTH), ""]


def _wrapped(text: str) -> list[str]:
    return wrap(text, WIDTH, initial_indent="  ", subsequent_indent="      ")


def _direction(direction: str) -> str:
    return gettext("into cylinder") if direction == "into cylinder" else gettext("out of cylinder")


def _test(port: TestedPort) -> str:
    """A test in a line: which it is, its valve, and the pressure and air it was made in."""
    document = port.document
    cylinder = document.cylinder and gettext("cylinder {cylinder}", cylinder=document.cylinder)
    day = document.measured_at and f"{document.measured_at:%Y-%m-%d}"
    names = (
        translated(document.side), _direction(port.direction), document.engine_type,
        document.head, cylinder, document.stage, document.title, day,
    )  # fmt: skip
    return gettext(
        "{number}: {names}. D {diameter}, valves lifted {valves}, test pressure {pressure} "
        "(pressure ratio {ratio:.4f}), air {density:.4f} kg/m³ at {temperature} and {barometer}.",
        number=port.number,
        names=", ".join(name for name in names if name),
        diameter=document.head_diameter,
        valves=document.valve_count,
        pressure=document.test_pressure,
        ratio=port.pressure_ratio,
        density=port.reduction.air_density,
        temperature=document.temperature,
        barometer=document.barometer,
    )
