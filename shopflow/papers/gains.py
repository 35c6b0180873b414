"""A certificate's table of what a change was worth."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Flowable

from shopflow.charts import Axis, Chart, Series
from shopflow.documents import AreaGain, Display, Gain
from shopflow.papers import earlier_results
from shopflow.papers.curves import MOST_CURVES
from shopflow.papers.numbers import changed, to_agree
from shopflow.papers.style import HEADING, NOTE, gap, para, subheading
from shopflow.papers.tables import DENSE, Column, grid, headed
from shopflow.texts import gettext, translated
from shopflow.units import UnitSystem, from_si, pretty


def gain_block(gain: Gain, display: Display, width: float) -> list[Flowable]:
    """Gain in effective area, lift by lift, flow beside it."""
    title = gettext(
        "{side}: {after} against {before}",
        side=translated(gain.side).capitalize(),
        after=gain.after,
        before=gain.before,
    )
    story: list[Flowable] = [CondPageBreak(60 * mm), subheading(title, HEADING, 2)]
    if not gain.points:
        return [*story, para(gettext("The two tests share no lifts, so they cannot be compared."))]
    if gain.mean is None:
        return [*story, *earlier_results.gain_table(gain, display.units, width)]
    rows = [
        *(_gain_row(point, display.units) for point in gain.areas),
        [gettext("Mean"), *_gain_row(gain.mean, display.units)[1:]],
    ]
    return [
        *story,
        grid(_gain_columns(display.units), rows, width, DENSE),
        gap(2),
        para(gettext("Flow at {flow_at}. U for 95 %.", flow_at=gain.flow_at), NOTE),
        *(para(text, NOTE) for text in gain.reasons),
    ]


def gain_chart(gains: Sequence[Gain], units: UnitSystem) -> Chart:
    """Gain in effective area against lift, one curve a port, with what is stated of it."""
    judged = [gain for gain in gains if gain.areas]
    unit = units.unit("lift")
    return Chart(
        title=gettext("Gain in effective area, lift by lift, with its uncertainty"),
        x=Axis(gettext("Lift"), pretty(unit)),
        y=Axis(gettext("Gain"), "%"),
        series=[
            Series(
                name=_name(gain, judged),
                x=[from_si(point.low, unit) for point in gain.areas],
                y=[100.0 * point.gain for point in gain.areas],
                error=[100.0 * (point.expanded_uncertainty or 0.0) for point in gain.areas],
            )
            for gain in judged[:MOST_CURVES]
        ],
    )


def _name(gain: Gain, others: Sequence[Gain]) -> str:
    """The port, as short as tells it apart."""
    same = [other for other in others if other.side == gain.side]
    side = translated(gain.side)
    return side if len(same) == 1 else f"{side}: {gain.after}"


def _gain_columns(units: UnitSystem) -> list[Column]:
    return [
        headed(gettext("Lift"), "lift", units),
        headed(gettext("Area before"), "port area", units),
        headed(gettext("Area after"), "port area", units),
        headed(gettext("Flow before"), "flow", units),
        headed(gettext("Flow after"), "flow", units),
        Column(gettext("Gain, %"), figures=True),
        Column("± U, %", figures=True),
        Column(gettext("Verdict"), width=96),
    ]


def _gain_row(gain: AreaGain, units: UnitSystem) -> list[str]:
    uncertainty = gain.expanded_uncertainty
    return [
        units.number(gain.low, "lift"),
        *(
            to_agree(units, value, kind, uncertainty)
            for value, kind in (
                (gain.area_before, "port area"),
                (gain.area_after, "port area"),
                (gain.flow_before, "flow"),
                (gain.flow_after, "flow"),
            )
        ),
        *changed(gain.gain, uncertainty),
        gain.finding or translated(gain.verdict),
    ]
