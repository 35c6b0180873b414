"""Ports through an engine's cam: one chart for page and paper, and the sheet of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Flowable

from shopflow.calc.cam_gain import WORTH_SAYING
from shopflow.charts import Axis, Chart, Series, Shade, layout
from shopflow.documents import (
    AreaOverAngle,
    CertifiedCam,
    Display,
    DrawnCam,
    Figure,
    OneCam,
    OverCams,
    ThroughCam,
)
from shopflow.documents.head import identifiers
from shopflow.papers.engine_section import engine_section, figure_table
from shopflow.papers.figures import ChartFigure
from shopflow.papers.language import in_its_language
from shopflow.papers.sheet import Sheet
from shopflow.papers.style import (
    NOTE,
    SMALLEST,
    SUBTITLE,
    gap,
    heading,
    paper_title,
    para,
    subheading,
)
from shopflow.papers.tables import Column, facts, grid
from shopflow.texts import gettext, lazy, listed, ngettext, translated
from shopflow.units import UnitSystem, from_si, pretty, pretty_text

MARKED_EVERY = 20.0
"""Crank degrees between the points that have a mark."""

CHART_HEIGHT, CHART_TYPE = 180.0, SMALLEST
ON_A_CERTIFICATE = 165.0
"""Points; a certificate is a page longer by it at most."""

DRAWN_OF_MANY = lazy(
    "The chart shows the port with the largest mean area of each side; the table lists all."
)
ABOUT = (
    lazy(
        "Angles are crank degrees from top dead center of the overlap. The mean is the effective "
        "area over the whole time the valve is open, each lift by the time spent at it; ± for 95 "
        "%, from the flow test alone: the cam is taken as it was entered."
    ),
    lazy(
        "Above the last lift tested the area there is used. The share of the open time so spent is "
        "beyond the test, and in no ±."
    ),
    lazy(
        "Tests are compared over what both cover: the time at or above the first lift both have, "
        "with lifts above the last such one at its area."
    ),
    lazy("All cams of a table are judged together."),
    lazy(
        "The opening is geometry: the least area between valve and seat, or the throat less the "
        "stem, from the sizes each test states. All else is the rest of the difference: the "
        "discharge coefficient of that area, and with it the size and shape of the port."
    ),
)


def through_cam_chart(cam: DrawnCam, units: UnitSystem) -> Chart:
    """Effective area against crank angle, overlap and blow-down shaded."""
    unit = units.unit("port area")
    shades = (
        (gettext("overlap, both in series"), cam.overlap),
        (gettext("blow-down"), cam.blowdown),
    )
    return Chart(
        title=gettext("Effective area over crank angle: {cam}", cam=cam.name),
        x=Axis(gettext("Crank angle from top dead center of the overlap"), "°"),
        y=Axis(gettext("Effective area"), pretty(unit)),
        series=[_series(port, unit) for port in cam.ports],
        places=units.choices["port area"][1],
        x_places=0,
        nothing=gettext("No flow tests chosen"),
        x_from_zero=False,
        shades=[
            Shade(name, [angle for angle, _ in pairs], [from_si(area, unit) for _, area in pairs])
            for name, pairs in shades
            if pairs
        ],
    )


def _series(port: AreaOverAngle, unit: str) -> Series:
    path = [(angle, from_si(area, unit)) for angle, area in port.curve]
    marked = [point for point in path[1:-1] if point[0] % MARKED_EVERY == 0.0]
    ends = (path[0], *marked, path[-1])
    return Series(
        name=port_name(port),
        x=[angle for angle, _ in ends],
        y=[area for _, area in ends],
        as_received=port.is_first,
        path=path,
    )


def port_name(port: AreaOverAngle) -> str:
    """Side and test, as "intake: ported"."""
    return f"{translated(port.side)}: {port.test}"


def engine_figures(cam: OneCam, units: UnitSystem) -> list[Figure]:
    """Overlap and blow-down, each with what it was with the earlier tests."""
    return list(_engine_figures(cam, units))


def _engine_figures(cam: OneCam, units: UnitSystem) -> Iterator[Figure]:
    now, then = cam.latest, cam.earlier or cam.latest
    for name, field, working in (
        (
            gettext("Overlap"),
            "overlap_area_integral",
            gettext("area of both ports in series × crank angle, while both are open."),
        ),
        (
            gettext("Blow-down"),
            "blowdown_area_integral",
            gettext("exhaust area × crank angle, from opening to bottom dead center."),
        ),
    ):
        value, was = (angle_area(getattr(cam_figures, field), units) for cam_figures in (now, then))
        if value:
            yield Figure(name, value, _with_earlier(working, was, value))


def _with_earlier(working: str, was: str, value: str) -> str:
    """A working, with what the earlier test gives where that differs."""
    if was == value:
        return working
    return gettext("{working} With the earlier test: {value}.", working=working, value=was)


def angle_area(value: float | None, units: UnitSystem) -> str:
    """An area over crank angle, as "5010.9 mm²·°"."""
    if value is None:
        return ""
    unit, places = units.choices["port area"]
    return f"{from_si(value, unit):.{places}f} {pretty(unit)}·°"


def time_area(value: float | None, units: UnitSystem) -> str:
    """An area over time in milliseconds, without its unit."""
    unit, places = units.choices["port area"]
    return "–" if value is None else f"{1e3 * from_si(value, unit):.{places}f}"


def mean_area(port: AreaOverAngle, units: UnitSystem) -> str:
    """The mean with its uncertainty, where one is stated."""
    mean = units.number(port.mean.area, "port area")
    if port.mean.expanded_uncertainty is None:
        return mean
    return f"{mean} ± {units.number(port.mean.expanded_uncertainty, 'port area')}"


def beyond(cam: DrawnCam, units: UnitSystem) -> list[str]:
    """Sentences on lifts beyond those tested; tests that are alike in one."""
    texts = [
        gettext(
            "{side}: {share:.0f} % of the open time is above the last lift tested, "
            "{last_lift}. The area there is used.",
            side=translated(port.side),
            share=100 * share,
            last_lift=units.text(port.last_lift, "lift"),
        )
        for port in cam.ports
        if (share := port.mean.share_beyond_test) >= WORTH_SAYING
    ]
    return list(dict.fromkeys(texts))


def stand_ins(cam: DrawnCam) -> str:
    """That a lobe is a stand-in; empty where both were measured."""
    if not cam.stand_ins:
        return ""
    return ngettext(
        "The {sides} lobe is a stand-in: greatest lift × sin² over the duration. Nobody measured "
        "the lobe, so read these results as a sketch.",
        "The {sides} lobes are stand-ins: greatest lift × sin² over the duration. Nobody measured "
        "the lobes, so read these results as a sketch.",
        len(cam.stand_ins),
        sides=listed(map(translated, cam.stand_ins)),
    )


@in_its_language
def through_cam(content: ThroughCam) -> bytes:
    """The sheet of a head's ports through a cam, as PDF."""
    frame = Sheet(
        content.shop, content.display, gettext("Through the cam"), content.head.tag, content.made_at
    )
    return frame.build(_story(content, frame.width))


def _story(content: ThroughCam, width: float) -> list[Flowable]:
    cam, units = content.cam, content.display.units
    drawing = layout(through_cam_chart(cam, units), width, CHART_HEIGHT, CHART_TYPE)
    story: list[Flowable] = [
        paper_title(gettext("Through the cam: {cam}", cam=cam.name)),
        para(f"{content.head.engine_type}, {content.head.tag}", SUBTITLE),
        *facts(
            [
                (gettext("Job"), content.job),
                (gettext("Known by"), identifiers(content.head) or gettext("not recorded")),
                (gettext("Bore × stroke"), pretty_text(cam.engine)),
                (gettext("Engine speed"), cam.speed),
                (gettext("Calculated"), content.display.moment(content.made_at)),
            ],
            width,
        ),
        gap(10),
        ChartFigure(drawing),
        _ports(cam.ports, units, width),
        *_remarks(cam, units),
    ]
    for comparison in content.comparisons:
        story += _comparison(comparison, width)
    figures = engine_figures(cam, units)
    if figures:
        story += [*heading(gettext("Overlap and blow-down"), 30 * mm), figure_table(figures, width)]
    story += [gap(6), *(para(text, NOTE) for text in ABOUT)]
    if content.engine is not None:
        story += engine_section(content.engine, content.display, width)
    return story


def _remarks(cam: DrawnCam, units: UnitSystem) -> list[Flowable]:
    """Lifts beyond the tests, and lobes that nobody measured."""
    remarks = [*beyond(cam, units), stand_ins(cam)]
    return [para(f"{text[0].upper()}{text[1:]}", NOTE) for text in remarks if text]


def through_cam_block(cam: CertifiedCam, display: Display, width: float) -> list[Flowable]:
    """A certificate's tests through the engine's cam: the chart, the means and the gains."""
    units, drawn = display.units, cam.drawn
    drawing = layout(through_cam_chart(drawn, units), width, ON_A_CERTIFICATE, CHART_TYPE)
    of_job = gettext(", the customer's own,") if cam.of_job else ""
    story: list[Flowable] = [
        CondPageBreak(ON_A_CERTIFICATE + 25 * mm),
        *heading(gettext("Through the cam: {cam}", cam=cam.name)),
        para(
            gettext(
                "Effective area over the time that the cam{of_job} holds the valves open; bore × "
                "stroke {engine}, {speed}.",
                of_job=of_job,
                engine=pretty_text(cam.engine),
                speed=cam.speed,
            )
        ),
        ChartFigure(drawing),
    ]
    if len(drawn.ports) < len(cam.ports):
        story.append(para(DRAWN_OF_MANY, NOTE))
    story += [_ports(cam.ports, units, width), *_remarks(cam, units)]
    if cam.gains:
        story += [gap(6), _gains(cam, width)]
        reasons = dict.fromkeys(text for gain in cam.gains for text in gain.reasons)
        story += [para(text, NOTE) for text in reasons]
    return [*story, *(para(text, NOTE) for text in ABOUT[:3])]


def _gains(cam: CertifiedCam, width: float) -> Flowable:
    """Each later test against the earlier one over the cam."""
    columns = [
        Column(gettext("Mean effective area over the cam"), share=0.56),
        Column(gettext("Difference"), figures=True),
        Column(gettext("Result"), share=0.22),
    ]
    rows = [
        [
            gettext(
                "{side}: {after}, against {before}",
                side=translated(gain.side).capitalize(),
                after=gain.after,
                before=gain.before,
            ),
            *gain.in_words,
        ]
        for gain in cam.gains
    ]
    return grid(columns, rows, width, 1.8)


def _ports(ports: Sequence[AreaOverAngle], units: UnitSystem, width: float) -> Flowable:
    first, *others = port_titles(units)
    columns = [Column(first, share=0.3), *(Column(title, figures=True) for title in others)]
    return grid(columns, port_rows(ports, units), width, 1.8)


def port_titles(units: UnitSystem) -> list[str]:
    """Headings of `port_rows`, with their units."""
    area, lift = pretty(units.unit("port area")), pretty(units.unit("lift"))
    return [
        gettext("Flow test"),
        gettext("Mean area, {area}", area=area),
        gettext("Time-area, {area}·ms", area=area),
        gettext("Beyond test"),
        gettext("Opens,\u00a0°"),
        gettext("Closes,\u00a0°"),
        gettext("Valve lift, {lift}", lift=lift),
    ]


def port_rows(ports: Sequence[AreaOverAngle], units: UnitSystem) -> list[list[str]]:
    """Each flow test through the cam."""
    return [
        [
            port_name(port),
            mean_area(port, units),
            time_area(port.figures.time_area, units),
            f"{100 * port.mean.share_beyond_test:.0f} %",
            angle(port.figures.opens),
            angle(port.figures.closes),
            units.number(port.figures.max_lift, "lift"),
        ]
        for port in ports
    ]


def angle(value: float) -> str:
    """Crank degrees with their sign."""
    return f"{value:.1f}".replace("-", "−")


def _comparison(comparison: OverCams, width: float) -> list[Flowable]:
    parts: Sequence[tuple[str, ...]] = comparison.source_rows or [()] * len(comparison.rows)
    rows = [
        [cam, gain, *sources, result]
        for (cam, gain, result), sources in zip(comparison.rows, parts, strict=True)
    ]
    titles = [gettext("Opening"), gettext("All else")] if comparison.source_rows else []
    columns = [
        Column(gettext("Cam"), share=0.3 if titles else 0.4),
        Column(gettext("Gain") if comparison.is_gain else gettext("Difference"), figures=True),
        *(Column(title, figures=True) for title in titles),
        Column(gettext("Result"), share=0.2 if titles else 0.3),
    ]
    title = gettext(
        "{side}: {after}, against {before}",
        side=translated(comparison.side).capitalize(),
        after=comparison.after,
        before=comparison.before,
    )
    notes = [text for text in (comparison.cuts, *comparison.reasons) if text]
    if not rows:
        return [
            subheading(title, level=2),
            para(gettext("These tests have no lift in common."), NOTE),
        ]
    return [
        CondPageBreak(35 * mm),
        gap(8),
        subheading(gettext("{title}: mean effective area over the cam", title=title), level=2),
        grid(columns, rows, width, 1.8),
        *(para(text, NOTE) for text in notes),
    ]
