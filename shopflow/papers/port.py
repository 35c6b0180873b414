"""A port's sections: the chart for page and paper, and the certificate's block."""

from __future__ import annotations

from collections.abc import Iterator

from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Flowable

from shopflow.charts import Axis, Chart, Series, layout
from shopflow.charts.paper import ChartFlowable
from shopflow.documents import AlongPort, PortSurvey, SectionPoint
from shopflow.papers.style import NOTE, SMALLEST, STRONG, para
from shopflow.papers.tables import Column, grid
from shopflow.units import UnitSystem, from_si, pretty

CHART_HEIGHT = 135.0
CHART_TYPE = SMALLEST
HOW = (
    "Velocity is flow over area at room density. The Mach number is that of dry air without "
    "losses, from mass flow over area (isentropic); losses make it a little higher. Both are means "
    "over the section. Volume by frusta between the sections, along the middle of the port."
)
"""Method behind the results, printed beside them."""


def port_chart(port: AlongPort, units: UnitSystem) -> Chart:
    """Area against distance, before dashed and after solid, with the valve's areas at its seat."""
    length, area = units.unit("lift"), units.unit("port area")
    places = units.choices["port area"][1]
    surveys = [
        Series(
            name=f"{survey.when} the work",
            x=[from_si(point.distance, length) for point in survey.points],
            y=[from_si(point.area, area) for point in survey.points],
            as_received=survey.when == "before",
        )
        for survey in port.surveys
    ]
    valves = [
        Series(name=name, x=[0.0], y=[from_si(value, area)]) for name, value in valve_areas(port)
    ]
    return Chart(
        title=f"Areas along the {port.side} port",
        x=Axis(f"Distance from the {port.datum}", pretty(length)),
        y=Axis("Area", pretty(area)),
        series=[*surveys, *(valves if port.from_seat else [])],
        places=places,
        from_zero=False,
    )


def valve_areas(port: AlongPort) -> list[tuple[str, float]]:
    """The valve's areas that are known, by name; one where the throat is the least of them."""
    if port.least == port.throat:
        areas = [("curtain", port.curtain), ("throat, the least", port.throat)]
    else:
        areas = [("curtain", port.curtain), ("least", port.least), ("throat", port.throat)]
    return [(name, area) for name, area in areas if area is not None]


def findings(port: AlongPort, units: UnitSystem) -> Iterator[str]:
    """Findings on the tightest section, alone and against the valve, in sentences."""
    if port.outdated_by:
        yield (
            f"These sections were measured before the step {port.outdated_by}; the flow test came "
            "after it, so that areas and velocities may be out of date"
        )
    survey = port.surveys[port.stands]
    tight = survey.tightest
    location = f"{units.text(tight.distance, 'lift')} from the {port.datum}"
    text = f"Tightest {survey.when} the work: {units.text(tight.area, 'port area')} at {location}"
    if tight.choked:
        text += ", choked: this flow is more than it can pass without losses"
    elif tight.mach is not None:
        text += f", mean Mach number {tight.mach:.3f}"
    yield f"{text}."
    if port.least is not None and port.lift is not None:
        least = f"the valves leave {units.text(port.least, 'port area')} at {_lift(port, units)}"
        if tight.area < port.least:
            yield f"The port is tighter than the valve: {least}."
        else:
            yield f"The valve is tighter than the port: {least}."
    if survey.volume is not None:
        yield (
            f"Between the first and the last section: {units.text(survey.volume, 'volume')}, mean "
            f"area {units.text(survey.mean_area, 'port area')}."
        )


def _lift(port: AlongPort, units: UnitSystem) -> str:
    return f"{units.text(port.lift, 'lift')} of lift"


def along_port_block(port: AlongPort, units: UnitSystem, width: float) -> list[Flowable]:
    """The certificate's block: chart, sections, what they say."""
    survey = port.surveys[port.stands]
    flow = f"{units.text(port.flow, 'flow')} by the root of the pressures"
    title = f"Along the port: {flow}, at {_lift(port, units)}"
    drawing = layout(port_chart(port, units), width, CHART_HEIGHT, CHART_TYPE)
    return [
        CondPageBreak(85 * mm),
        para(title, STRONG),
        ChartFlowable(drawing),
        _table(survey, units, width),
        *(para(text, NOTE) for text in (*findings(port, units), HOW)),
    ]


def _table(survey: PortSurvey, units: UnitSystem, width: float) -> Flowable:
    columns = [
        Column(f"Distance, {pretty(units.unit('lift'))}", figures=True),
        Column(f"Area, {pretty(units.unit('port area'))}", figures=True),
        Column(f"Velocity, {pretty(units.unit('velocity'))}", figures=True),
        Column("Mach number", figures=True),
        Column("Of the tightest, %", figures=True),
        Column("Of the throat, %", figures=True),
    ]
    rows = [_row(point, units) for point in survey.points]
    return grid(columns, rows, width, 1.8)


def _row(point: SectionPoint, units: UnitSystem) -> list[str]:
    return [
        units.number(point.distance, "lift"),
        units.number(point.area, "port area"),
        units.number(point.velocity, "velocity"),
        mach(point),
        f"{100 * point.over_tightest:.0f}",
        "–" if point.over_throat is None else f"{100 * point.over_throat:.0f}",
    ]


def mach(point: SectionPoint) -> str:
    """A section's Mach number, or that it is choked; a dash where no flow was given."""
    if point.choked:
        return "choked"
    return "–" if point.mach is None else f"{point.mach:.3f}"
