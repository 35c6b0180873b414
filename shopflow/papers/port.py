"""A port's sections: the chart for page and paper, and the certificate's block."""

from __future__ import annotations

from collections.abc import Iterator

from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Flowable, KeepTogether

from shopflow.charts import Axis, Chart, Series, layout
from shopflow.charts.silhouette import layout_silhouette
from shopflow.documents import AlongPort, PortSurvey, SectionPoint
from shopflow.papers.figures import ChartFigure
from shopflow.papers.silhouette import WHEN, caption, silhouette
from shopflow.papers.style import NOTE, SMALLEST, gap, para, subheading
from shopflow.papers.tables import Column, grid
from shopflow.texts import gettext, lazy, translated
from shopflow.units import UnitSystem, from_si, pretty

CHART_HEIGHT = 135.0
CHART_TYPE = SMALLEST
SILHOUETTE = 0.56
"""Width of the silhouette on paper, by that of its column."""

HOW = lazy(
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
            name=WHEN[survey.when],
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
        title=gettext("Areas along the {side} port", side=translated(port.side)),
        x=Axis(gettext("Distance from the {datum}", datum=translated(port.datum)), pretty(length)),
        y=Axis(gettext("Area"), pretty(area)),
        series=[*surveys, *(valves if port.from_seat else [])],
        places=places,
        from_zero=False,
    )


def valve_areas(port: AlongPort) -> list[tuple[str, float]]:
    """The valve's areas that are known, by name; one where the throat is the least of them."""
    if port.least == port.throat:
        areas = [
            (gettext("curtain"), port.curtain),
            (gettext("throat, the least"), port.throat),
        ]
    else:
        areas = [
            (gettext("curtain"), port.curtain),
            (gettext("least"), port.least),
            (gettext("throat"), port.throat),
        ]
    return [(name, area) for name, area in areas if area is not None]


def findings(port: AlongPort, units: UnitSystem) -> Iterator[str]:
    """Findings on the tightest section, alone and against the valve, in sentences."""
    if port.outdated_by:
        yield (
            gettext(
                "These sections were measured before the step {outdated_by}; the flow "
                "test came after it, so that areas and velocities may be out of date",
                outdated_by=port.outdated_by,
            )
        )
    survey = port.surveys[port.stands]
    tight = survey.tightest
    where = {
        "when": WHEN[survey.when],
        "area": units.text(tight.area, "port area"),
        "distance": units.text(tight.distance, "lift"),
        "datum": translated(port.datum),
    }
    if tight.choked:
        yield gettext(
            "Tightest {when}: {area} at {distance} from the {datum}, choked: this flow is more "
            "than it can pass without losses.",
            **where,
        )
    elif tight.mach is not None:
        yield gettext(
            "Tightest {when}: {area} at {distance} from the {datum}, mean Mach number {mach:.3f}.",
            **where,
            mach=tight.mach,
        )
    else:
        yield gettext("Tightest {when}: {area} at {distance} from the {datum}.", **where)
    yield from _port_or_valve(port, units)
    if survey.volume is not None:
        yield (
            gettext(
                "Between the first and the last section: {volume}, mean area {mean_area}.",
                volume=units.text(survey.volume, "volume"),
                mean_area=units.text(survey.mean_area, "port area"),
            )
        )


def _port_or_valve(port: AlongPort, units: UnitSystem) -> Iterator[str]:
    """The tighter of the tightest section and the valve, in a sentence, where both are known."""
    if port.least is None or port.lift is None:
        return
    least = {"area": units.text(port.least, "port area"), "lift": units.text(port.lift, "lift")}
    if port.tighter == "neither":
        yield gettext(
            "No measurable difference between port and valve: the valves leave {area} at {lift} of "
            "lift.",
            **least,
        )
    elif not port.tighter:
        yield gettext(
            "The valves leave {area} at {lift} of lift. The uncertainty of these sizes is not "
            "stated, so that neither is said to be tighter.",
            **least,
        )
    elif port.tighter == "port":
        yield gettext(
            "The port is tighter than the valve: the valves leave {area} at {lift} of lift.",
            **least,
        )
    else:
        yield gettext(
            "The valve is tighter than the port: the valves leave {area} at {lift} of lift.",
            **least,
        )


def along_port_block(port: AlongPort, units: UnitSystem, width: float) -> list[Flowable]:
    """The certificate's block: chart, sections, what they say."""
    survey = port.surveys[port.stands]
    title = gettext(
        "Along the port: {flow} by the root of the pressures, at {lift} of lift",
        flow=units.text(port.flow, "flow"),
        lift=units.text(port.lift, "lift"),
    )
    drawing = layout(port_chart(port, units), width, CHART_HEIGHT, CHART_TYPE)
    return [
        CondPageBreak(85 * mm),
        subheading(title),
        ChartFigure(drawing),
        _table(survey, units, width),
        *(para(text, NOTE) for text in (*findings(port, units), HOW)),
        *_silhouette(port, units, width),
    ]


def _silhouette(port: AlongPort, units: UnitSystem, width: float) -> list[Flowable]:
    # Of tests before and after the work, the one after has it: both overlaid.
    is_shown_later = port.stands == 0 and len(port.surveys) > 1
    shape = None if is_shown_later else silhouette(port, units)
    if shape is None:
        return []
    drawing = ChartFigure(layout_silhouette(shape, SILHOUETTE * width, CHART_TYPE))
    drawing.hAlign = "CENTER"
    return [
        KeepTogether([subheading(shape.title), gap(3), drawing, para(caption(port), NOTE)]),
    ]


def _table(survey: PortSurvey, units: UnitSystem, width: float) -> Flowable:
    columns = [
        Column(gettext("Distance, {unit}", unit=pretty(units.unit("lift"))), figures=True),
        Column(gettext("Area, {unit}", unit=pretty(units.unit("port area"))), figures=True),
        Column(gettext("Velocity, {unit}", unit=pretty(units.unit("velocity"))), figures=True),
        Column(gettext("Mach number"), figures=True),
        Column(gettext("Of the tightest, %"), figures=True),
        Column(gettext("Of the throat, %"), figures=True),
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
        return gettext("choked")
    return "–" if point.mach is None else f"{point.mach:.3f}"
