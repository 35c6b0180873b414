"""Sections of ports as documents print them: a table a port, a line a section."""

from __future__ import annotations

from collections.abc import Sequence

from shopflow.documents.placed import PlaceCell, SectionTable, ValveRow, ValveTable
from shopflow.models import Measurement, Verdict, When
from shopflow.services.bench.port_surveys import Port
from shopflow.services.bench.section_checks import ALONG, KIND, SHAPE
from shopflow.texts import gettext
from shopflow.units import UnitSystem, pretty

CODES = (KIND, *SHAPE.values())
"""In the order of the columns."""

Group = tuple[Port, When]


def tabled(
    measured: Sequence[Measurement], units: UnitSystem
) -> tuple[tuple[SectionTable, ...], list[Measurement]]:
    """Tables of sections, and the measurements that stay in a list.

    A port is tabled where more than areas were measured along it. What has limits, a place of its
    own or a decision on it stays in the list, with its verdict.
    """
    groups: dict[Group, list[Measurement]] = {}
    for row in measured:
        if _is_plain(row):
            groups.setdefault(_group(row), []).append(row)
    shaped = {
        group: rows for group, rows in groups.items() if any(row.kind.code != KIND for row in rows)
    }
    ordered = sorted(shaped.items(), key=lambda item: (item[0][0].order, item[0][1] is When.AFTER))
    in_tables = {row.id for rows in shaped.values() for row in rows}
    return (
        tuple(_table(group, rows, units) for group, rows in ordered),
        [row for row in measured if row.id not in in_tables],
    )


def _is_plain(row: Measurement) -> bool:
    return (
        row.kind.code in ALONG
        and row.datum is not None
        and bool(row.side)
        and not row.place
        and row.verdict is Verdict.NO_LIMIT
        and row.decision is None
    )


def _group(row: Measurement) -> Group:
    assert row.datum is not None
    return Port(row.side, row.cylinder, row.datum), row.when


def _table(group: Group, rows: Sequence[Measurement], units: UnitSystem) -> SectionTable:
    port, when = group
    codes = [code for code in CODES if any(row.kind.code == code for row in rows)]
    by_distance: dict[float, dict[str, Measurement]] = {}
    for row in rows:
        if row.distance is not None:
            by_distance.setdefault(round(row.distance.si, 9), {})[row.kind.code] = row
    words = {When.BEFORE: gettext("before the work"), When.AFTER: gettext("after the work")}
    return SectionTable(
        title=gettext("{port}, {when}", port=port.words, when=words[when]),
        distance=pretty(units.unit("lift")),
        table=ValveTable(
            columns=tuple(_column(code, rows, units) for code in codes),
            rows=tuple(
                ValveRow(
                    units.number(distance, "lift"),
                    tuple(_cell(section.get(code), units) for code in codes),
                )
                for distance, section in sorted(by_distance.items())
            ),
        ),
    )


def _column(code: str, rows: Sequence[Measurement], units: UnitSystem) -> tuple[str, str]:
    name = next(row.kind.name for row in rows if row.kind.code == code)
    return name, pretty(units.unit(_shown_as(code)))


def _cell(row: Measurement | None, units: UnitSystem) -> PlaceCell | None:
    if row is None:
        return None
    return PlaceCell(units.number(row.value.si, _shown_as(row.kind.code)))


def _shown_as(code: str) -> str:
    return "port area" if code == KIND else "lift"
