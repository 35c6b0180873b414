"""A certificate's block of one flow test: how it was made, and its results from the registry."""

from __future__ import annotations

from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Flowable

from shopflow.calc.result import Result, Table
from shopflow.calc.results import of_table
from shopflow.documents import Display, SessionResult
from shopflow.papers import earlier_results
from shopflow.papers.numbers import coefficient, result, result_margin
from shopflow.papers.port import along_port_block
from shopflow.papers.style import HEADING, NOTE, SMALL, STRONG, gap, para
from shopflow.papers.tables import DENSE, Column, facts, grid, headed
from shopflow.texts import gettext, lazy
from shopflow.units import UnitSystem

FLOWS = lazy(
    "As tested: corrected, at the test pressure. Isentropic: through the same effective area at "
    "{reference}. Root: at {reference} by the square root of the pressures, a convention. All at "
    "room-air density; U for 95 %."
)


def session_block(session: SessionResult, display: Display, width: float) -> list[Flowable]:
    """One session: how it was made, its results, what was left out."""
    story: list[Flowable] = [
        CondPageBreak(70 * mm),
        para(session.title, HEADING),
        *facts(_conditions(session, display), width),
        gap(2),
        para(
            gettext(
                "Calibration relied on: {calibration}",
                calibration=session.calibration or gettext("not recorded"),
            ),
            STRONG if session.calibration_overdue else SMALL,
        ),
        gap(4),
        *_results(session, display.units, width),
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
    if session.along_port is not None:
        story += [gap(6), *along_port_block(session.along_port, display.units, width)]
    return story


def _conditions(session: SessionResult, display: Display) -> list[tuple[str, str]]:
    units = display.units
    return [
        *((name, value or gettext("not recorded")) for name, value in session.conditions),
        (gettext("Air density"), units.text(session.air_density, "density")),
        (gettext("Tested"), display.moment(session.measured_at, clock=True)),
        (gettext("Operator"), session.operator or gettext("not recorded")),
        (gettext("Restated to"), session.reference_pressure),
        (gettext("Mean flow by the root"), units.text(session.mean_flow, "flow")),
    ]


def _results(session: SessionResult, units: UnitSystem, width: float) -> list[Flowable]:
    """The flows, as tested first; then coefficients and what a port area gives."""
    if not session.is_as_tested:
        return [earlier_results.results_table(session, units, width)]
    return [
        _table(session, Table.FLOWS, units, width),
        gap(2),
        para(FLOWS.format(reference=session.reference_pressure), NOTE),
        CondPageBreak(35 * mm),
        gap(3),
        para(gettext("Coefficients, velocity and energy"), STRONG),
        _table(session, Table.COEFFICIENTS, units, width),
    ]


def _table(session: SessionResult, table: Table, units: UnitSystem, width: float) -> Flowable:
    """A table of the results that the test has, each beside its uncertainty."""
    has_depth = table is Table.FLOWS
    stated_rows = [
        row
        for row in of_table(table)
        if any(point.value(row.key) is not None for point in session.points)
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
