"""Lifts tested at several pressures: the chart of coefficients, and the exponents of the flow."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.platypus import Flowable, KeepTogether

from shopflow.calc.pressure_exponent import AtPressure, Exponent
from shopflow.charts import Axis, Chart, Series, layout
from shopflow.documents import SessionResult
from shopflow.papers.curves import MOST_CURVES
from shopflow.papers.figures import ChartFigure
from shopflow.papers.style import NOTE, SMALLEST, gap, para, subheading
from shopflow.papers.tables import DENSE, Column, grid
from shopflow.texts import gettext, lazy
from shopflow.units import UnitSystem

CHART_HEIGHT = 150.0
PLACES = 3

HEADINGS = (
    lazy("Lift"),
    lazy("Runs"),
    lazy("Pressures"),
    lazy("Exponent n"),
    lazy("±, 95 %"),
    lazy("Isentropic"),
    lazy("Finding"),
)
POINT_HEADINGS = (
    lazy("Lift"),
    lazy("Runs"),
    lazy("Pressure"),
    lazy("Pressure ratio"),
    lazy("Flow"),
    lazy("Effective area"),
    lazy("Cd head"),
    lazy("Cd curtain"),
)
NOTE_ON_EXPONENT = lazy(
    "Flow varies with the power n of the pressure across the head: one half for incompressible "
    "flow through a constant coefficient, less for an ideal isentropic nozzle at the same "
    "pressures. The line is fitted to the logarithms by weighted least squares, its ± by "
    "Student’s t. An offset of the gauge or a wrong leakage bends it too."
)


def pressure_chart(points: Sequence[AtPressure], units: UnitSystem) -> Chart:
    """Discharge coefficient on valve head area over the pressure ratio, a curve for each lift.

    Of more lifts than curves can be told apart, those drawn are spread over all of them.
    """
    lifts = list(dict.fromkeys(point.lift for point in points))
    return Chart(
        title=gettext("Discharge coefficient by lift and pressure ratio"),
        x=Axis(gettext("Downstream over upstream pressure")),
        y=Axis(gettext("Coefficient on valve head area")),
        series=[_curve(points, lift, units) for lift in _spread(lifts)],
        x_from_zero=False,
    )


def exponent_rows(fitted: Sequence[Exponent], units: UnitSystem) -> list[tuple[str, ...]]:
    """Cells of the exponents' table, a row for each lift."""
    return [
        (
            units.text(item.lift, "lift"),
            f"{item.runs}",
            gettext(
                "{low} to {high}",
                low=units.number(item.low, "test pressure"),
                high=units.text(item.high, "test pressure"),
            ),
            f"{item.value:.{PLACES}f}",
            f"{item.expanded_uncertainty:.{PLACES}f}",
            f"{item.isentropic:.{PLACES}f}",
            finding(item),
        )
        for item in fitted
    ]


def point_rows(points: Sequence[AtPressure], units: UnitSystem) -> list[tuple[str, ...]]:
    """Cells of the table behind the chart, a row for each lift at each pressure."""
    return [
        (
            units.text(item.lift, "lift"),
            f"{item.runs}",
            units.text(item.pressure, "test pressure"),
            f"{item.ratio:.{PLACES + 1}f}",
            units.text(item.flow, "flow"),
            units.text(item.area, "port area"),
            f"{item.cd_head:.{PLACES}f}",
            f"{item.cd_curtain:.{PLACES}f}",
        )
        for item in points
    ]


def finding(item: Exponent) -> str:
    """Finding on an exponent against one half and the isentropic one."""
    if item.agrees_with_half and item.agrees_with_isentropic:
        return gettext("agrees with both: they cannot be told apart")
    if item.agrees_with_isentropic:
        return gettext("isentropic: the coefficient does not change with pressure")
    if item.agrees_with_half:
        return gettext("one half")
    return gettext("neither: the coefficient changes with pressure")


def several_pressures_block(
    session: SessionResult, units: UnitSystem, width: float
) -> list[Flowable]:
    """The chart of a test at several pressures with its exponents, for its certificate."""
    chart = pressure_chart(session.at_pressures, units)
    drawn = ChartFigure(layout(chart, width, CHART_HEIGHT, SMALLEST))
    story: list[Flowable] = [KeepTogether([subheading(chart.title), drawn])]
    if session.exponents:
        columns = [Column(str(name), figures=True) for name in HEADINGS[:-1]]
        columns.append(Column(str(HEADINGS[-1]), share=1.0))
        rows = exponent_rows(session.exponents, units)
        story += [gap(4), grid(columns, rows, width, DENSE)]
    columns = [Column(str(name), figures=True) for name in POINT_HEADINGS]
    story += [gap(4), grid(columns, point_rows(session.at_pressures, units), width, DENSE)]
    return [*story, para(str(NOTE_ON_EXPONENT), NOTE)]


def _curve(points: Sequence[AtPressure], lift: float, units: UnitSystem) -> Series:
    own = sorted((point for point in points if point.lift == lift), key=lambda point: point.ratio)
    return Series(
        units.text(lift, "lift"),
        tuple(point.ratio for point in own),
        tuple(point.cd_head for point in own),
    )


def _spread(lifts: Sequence[float]) -> list[float]:
    """At most as many lifts as curves can be told apart, the first and the last among them."""
    if len(lifts) <= MOST_CURVES:
        return list(lifts)
    step = (len(lifts) - 1) / (MOST_CURVES - 1)
    return [lifts[round(step * place)] for place in range(MOST_CURVES)]
