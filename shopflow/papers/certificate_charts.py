"""The charts of a flow certificate: gain, flow and coefficients."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.platypus import Flowable, KeepTogether

from shopflow.calc.results import FLOW_STANDARD
from shopflow.calc.standard_flow import STANDARD_DENSITY
from shopflow.charts import Chart, layout
from shopflow.documents import FlowCertificate, SessionResult
from shopflow.documents.session import SIDES
from shopflow.papers.blocks import beside_each_other, half_of
from shopflow.papers.curves import MOST_CURVES, batches, coefficient_chart, flow_chart
from shopflow.papers.figures import ChartFigure
from shopflow.papers.gains import gain_chart
from shopflow.papers.style import HEADING, SMALL, SMALLEST, para, subheading
from shopflow.texts import gettext, lazy, listed, translated
from shopflow.units import pretty

CROWDED = lazy(
    "Drawn in several charts to keep the curves apart. Of a port with more than eight tests the "
    "first and the latest seven are drawn; the tables list all of them."
)
CHART_HEIGHT = 150.0
GAIN_HEIGHT = 82.0
"""Points; the first page holds the gain and who authorized it."""

CHART_TYPE = SMALLEST


def gain_drawn(certificate: FlowCertificate, width: float) -> list[Flowable]:
    """The gain of each port lift by lift, where any is stated."""
    chart = gain_chart(certificate.gains, certificate.display.units)
    if not chart.series:
        return []
    return [KeepTogether(_chart_under(chart.title, chart, width, GAIN_HEIGHT))]


def flow_charts(certificate: FlowCertificate, width: float) -> list[Flowable]:
    """Flow of each side with its uncertainty, two charts beside each other."""
    crowded = len(certificate.sessions) > MOST_CURVES
    blocks: list[list[Flowable]] = []
    for batch in _by_side(certificate):
        title = _named(_flow_title(batch), batch, crowded=crowded)
        chart = flow_chart(
            gettext("{chart} of head {head}", chart=title, head=certificate.head.tag),
            batch,
            certificate.display.units,
        )
        under = gettext("{chart}, with its uncertainty", chart=title)
        blocks.append(_chart_under(under, chart, half_of(width)))
    note = [para(CROWDED, SMALL)] if crowded else []
    return [*beside_each_other(blocks, width), *note]


def coefficient_charts(certificate: FlowCertificate, width: float) -> list[Flowable]:
    """Discharge coefficients of each side, two charts beside each other."""
    crowded = len(certificate.sessions) > MOST_CURVES
    blocks: list[list[Flowable]] = []
    for batch in _by_side(certificate):
        title = gettext(
            "Discharge coefficient on curtain area: {side}", side=translated(batch[0].side)
        )
        title = _named(title, batch, crowded=crowded)
        blocks.append(_chart_under(title, coefficient_chart(batch), half_of(width)))
    return beside_each_other(blocks, width)


def _by_side(certificate: FlowCertificate) -> list[list[SessionResult]]:
    """The tests of each side, as many together as one chart shows."""
    sides = [[item for item in certificate.sessions if item.side == side] for side in SIDES]
    return [batch for sessions in sides for batch in batches(sessions)]


def _flow_title(batch: Sequence[SessionResult]) -> str:
    """Title of a chart of flow: the flow that verdicts rest on, or of older tests the flow by the
    root."""
    stated = dict.fromkeys(session.reference_pressure for session in batch)
    side, at = translated(batch[0].side).capitalize(), listed(stated)
    if all(point.value(FLOW_STANDARD.key) for item in batch for point in item.points):
        density = f"{STANDARD_DENSITY} {pretty('kg/m3')}"
        return gettext(
            "{side} flow at {pressure} in air of {density}",
            side=side,
            pressure=at,
            density=density,
        )
    return gettext("{side} flow at {pressure} by the root", side=side, pressure=at)


def _named(chart: str, batch: Sequence[SessionResult], *, crowded: bool) -> str:
    """A chart's title, with the cylinders it shows where there are several charts."""
    cylinders = dict.fromkeys(session.cylinder for session in batch if session.cylinder)
    if not crowded or not cylinders:
        return chart
    return gettext("{chart}, cylinder {cylinders}", chart=chart, cylinders=", ".join(cylinders))


def _chart_under(
    name: str, chart: Chart, width: float, height: float = CHART_HEIGHT
) -> list[Flowable]:
    drawing = layout(chart, width, height, CHART_TYPE)
    return [subheading(name, HEADING), ChartFigure(drawing)]
