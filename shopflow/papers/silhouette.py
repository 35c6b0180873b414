"""A port's silhouette, the same on paper and on screen."""

from __future__ import annotations

from shopflow.calc.port_form import equivalent_diameter
from shopflow.charts.silhouette import Silhouette, SilhouetteLine
from shopflow.documents import AlongPort, PortSurvey, SectionPoint
from shopflow.texts import gettext, lazy, translated
from shopflow.units import UnitSystem, from_si, pretty

FEWEST = 2
"""Sections a silhouette is drawn from."""

SHORTEST = 1e-6
FLANGE, MANIFOLD = "port flange", "manifold flange"
WHEN = {"before": lazy("before the work"), "after": lazy("after the work")}
"""A survey's time, as a drawing names it."""


def silhouette(port: AlongPort, units: UnitSystem) -> Silhouette | None:
    """A port's silhouette in the reader's unit; None where no survey has two sections.

    By the widths where every section has one, else by the diameters of circles of the same areas.
    """
    surveys = [survey for survey in port.surveys if _is_drawn(survey)]
    if not surveys:
        return None
    by_width = all(point.width is not None for survey in surveys for point in survey.points)
    unit = units.unit("lift")
    return Silhouette(
        title=gettext("Silhouette of the {side} port", side=translated(port.side)),
        description=_method(by_width),
        axis=gettext(
            "Distance from the {datum}, {unit}", datum=translated(port.datum), unit=pretty(unit)
        ),
        ends=_ends(port.datum),
        lines=[_line(survey, port.datum, by_width, units) for survey in surveys],
        from_right=port.datum == FLANGE,
        places=0 if unit == "mm" else 2,
    )


def _ends(datum: str) -> tuple[str, str]:
    """Names of the ends, the one nearer the valve at the left."""
    if datum == FLANGE:
        return gettext("Toward the valve seat"), gettext("Port flange")
    if datum == MANIFOLD:
        return gettext("Manifold flange"), gettext("Away from the head")
    return gettext("Valve seat"), gettext("Toward the port flange")


def caption(port: AlongPort) -> str:
    """Sentence on the sizes that a silhouette is drawn by."""
    surveys = [survey for survey in port.surveys if _is_drawn(survey)]
    by_width = all(point.width is not None for survey in surveys for point in survey.points)
    return _method(by_width)


def _is_drawn(survey: PortSurvey) -> bool:
    points = survey.points
    return len(points) >= FEWEST and points[-1].distance - points[0].distance > SHORTEST


def _method(by_width: bool) -> str:
    if by_width:
        return gettext("Drawn to scale: half the width of each section on both sides of the axis.")
    return gettext(
        "Drawn to scale by areas: half the diameter of a circle of each section's area on both "
        "sides of the axis, since not every section has a width."
    )


def _line(survey: PortSurvey, datum: str, by_width: bool, units: UnitSystem) -> SilhouetteLine:
    unit = units.unit("lift")
    widths = [_width(point, by_width) for point in survey.points]
    return SilhouetteLine(
        name=str(WHEN[survey.when]),
        places=[from_si(point.distance, unit) for point in survey.points],
        widths=[from_si(width, unit) for width in widths],
        words=[
            gettext(
                "{width} wide, {distance} from the {datum}",
                width=units.text(width, "lift"),
                distance=units.text(point.distance, "lift"),
                datum=translated(datum),
            )
            for point, width in zip(survey.points, widths, strict=True)
        ],
        is_before=survey.when == "before",
    )


def _width(point: SectionPoint, by_width: bool) -> float:
    if by_width and point.width is not None:
        return point.width
    return equivalent_diameter(point.area)
