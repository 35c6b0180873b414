"""A certificate's block of one flow test: how it was made, and its results from the registry."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Flowable

from shopflow.calc.result import Result, Table
from shopflow.calc.results import (
    FLOW,
    FLOW_AS_TESTED,
    FLOW_ISENTROPIC,
    FLOW_STANDARD,
    of_table,
)
from shopflow.calc.standard_flow import STANDARD_DENSITY
from shopflow.documents import Display, SessionResult
from shopflow.papers import earlier_results
from shopflow.papers.numbers import coefficient, result, result_margin
from shopflow.papers.port import along_port_block
from shopflow.papers.several_pressures import several_pressures_block
from shopflow.papers.style import NOTE, gap, para, subheading
from shopflow.papers.tables import DENSE, Column, grid, headed
from shopflow.texts import gettext, lazy
from shopflow.units import UnitSystem

FLOWS = lazy(
    "As tested: corrected, at the test pressure. Isentropic: through the same effective area at "
    "{reference}. Root: at {reference} by the square root of the pressures, a convention. All at "
    "room-air density; U for 95 %."
)


STANDARD_AIR = lazy(
    "Standard air: through the same effective area at {reference} in air of {density} kg/m³, the "
    "flow that gains are of. As tested: corrected, at the test pressure and room-air density. "
    "Where the test pressure is not {reference}: isentropic, through the same effective area "
    "there; root, by the square root of the pressures, a convention. U for 95 %."
)
RESTATED = (FLOW_ISENTROPIC, FLOW)
"""Flows restated to the reference pressure in room air."""


def session_block(
    session: SessionResult, display: Display, width: float, *, in_standard_air: bool = False
) -> list[Flowable]:
    """One session: its flows, what was left out, and its port.

    With the flow `in_standard_air` first, a flow equal to that as tested is not printed again.
    """
    units = display.units
    if session.is_as_tested:
        rows = _flows(session, units) if in_standard_air else of_table(Table.FLOWS)
        results = _table(session, rows, units, width, has_depth=True)
    else:
        results = earlier_results.results_table(session, units, width)
    story: list[Flowable] = [
        CondPageBreak(40 * mm),
        gap(5),
        subheading(session.title, level=2),
        results,
    ]
    left_out = [
        gettext(
            "Excluded: reading {flow} at {lift}. Reason: {reason}",
            flow=item.flow,
            lift=item.lift,
            reason=item.reason,
        )
        for item in session.excluded
    ]
    remarks = [gettext("Remark: {text}", text=text) for text in session.warnings]
    opinions = [
        gettext("Opinion of the shop, not a result: {text}", text=text) for text in session.opinions
    ]
    story += [para(text, NOTE) for text in [*left_out, *remarks, *opinions]]
    if session.at_pressures:
        story += [gap(6), *several_pressures_block(session, display.units, width)]
    if session.along_port is not None:
        story += [gap(6), *along_port_block(session.along_port, display.units, width)]
    return story


def flows_note(
    sessions: Sequence[SessionResult], *, in_standard_air: bool = False
) -> list[Flowable]:
    """Meaning of the flows' columns, once for all tests; nothing for earlier certificates."""
    pressures = dict.fromkeys(item.reference_pressure for item in sessions if item.is_as_tested)
    stated = {"reference": ", ".join(pressures), "density": STANDARD_DENSITY}
    text = STANDARD_AIR.format(**stated) if in_standard_air else FLOWS.format(**stated)
    return [gap(2), para(text, NOTE)] if pressures else []


def coefficients_block(session: SessionResult, display: Display, width: float) -> list[Flowable]:
    """A test's coefficients, and what a port area gives; nothing for earlier certificates."""
    if not session.is_as_tested:
        return []
    return [
        CondPageBreak(40 * mm),
        gap(4),
        subheading(session.title),
        _table(session, of_table(Table.COEFFICIENTS), display.units, width),
    ]


def _flows(session: SessionResult, units: UnitSystem) -> list[Result]:
    """Results of the table of flows, that in standard air first, none that repeats the flow as
    tested."""
    return [
        FLOW_STANDARD,
        *(
            row
            for row in of_table(Table.FLOWS)
            if row not in RESTATED or not _repeats(row, session, units)
        ),
    ]


def _repeats(row: Result, session: SessionResult, units: UnitSystem) -> bool:
    """True where a flow is printed as that as tested at every lift."""
    return all(
        result(units, point, row) == result(units, point, FLOW_AS_TESTED)
        for point in session.points
    )


def _table(
    session: SessionResult,
    results: Sequence[Result],
    units: UnitSystem,
    width: float,
    *,
    has_depth: bool = False,
) -> Flowable:
    """A table of the results that the test has, each beside its uncertainty."""
    stated_rows = [
        row for row in results if any(point.value(row.key) is not None for point in session.points)
    ]
    columns = [headed(gettext("Lift"), "lift", units)]
    columns += [Column(title, figures=True) for title in ("L/D", gettext("Runs")) if has_depth]
    for row in stated_rows:
        columns += _columns(row, session, units)
    cells = []
    for point in session.points:
        line = [units.number(point.lift, "lift")]
        line += [coefficient(point.lift_over_diameter), str(point.runs)] if has_depth else []
        for row in stated_rows:
            is_choked = row.key == "effective_area" and point.choked
            line.append(f"{result(units, point, row)}{', choked' * is_choked}")
            line += [result_margin(units, point, row)] if row.has_margin_column else []
        cells.append(line)
    return grid(columns, cells, width, DENSE)


def _columns(row: Result, session: SessionResult, units: UnitSystem) -> list[Column]:
    """The column of a result, and of its uncertainty where that stands beside it."""
    title = row.column.format(tested=session.test_pressure, reference=session.reference_pressure)
    own = headed(title, row.kind, units) if row.kind else Column(title, figures=True)
    return [own, Column("± U", figures=True)] if row.has_margin_column else [own]
