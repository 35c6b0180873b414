"""A certificate's table of what a change was worth."""

from __future__ import annotations

from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Flowable

from shopflow.documents import AreaGain, Display, Gain
from shopflow.papers import earlier_results
from shopflow.papers.numbers import NOT_STATED, figure, percent
from shopflow.papers.style import HEADING, NOTE, STRONG, gap, para
from shopflow.papers.tables import Column, grid, headed
from shopflow.units import UnitSystem


def gain_block(gain: Gain, display: Display, width: float) -> list[Flowable]:
    """Gain in effective area, lift by lift, flow beside it."""
    title = f"{gain.side.capitalize()}: {gain.after} against {gain.before}"
    story: list[Flowable] = [CondPageBreak(60 * mm), para(title, HEADING)]
    if not gain.points:
        return [*story, para("The two tests share no lifts, so they cannot be compared.")]
    if gain.mean is None:
        return [*story, *earlier_results.gain_table(gain, display.units, width)]
    rows = [
        *(_gain_row(point, display.units) for point in gain.areas),
        ["Mean", *_gain_row(gain.mean, display.units)[1:]],
    ]
    return [
        *story,
        grid(_gain_columns(display.units), rows, width, 1.8),
        gap(2),
        para(f"Flow at {gain.flow_at}. U for 95 %.", NOTE),
        gap(2),
        para(gain.conclusion, STRONG),
        *(para(text, NOTE) for text in gain.reasons),
    ]


def _gain_columns(units: UnitSystem) -> list[Column]:
    return [
        headed("Lift", "lift", units),
        headed("Area before", "port area", units),
        headed("Area after", "port area", units),
        headed("Flow before", "flow", units),
        headed("Flow after", "flow", units),
        Column("Gain, %", figures=True),
        Column("± U, %", figures=True),
        Column("Verdict", width=96),
    ]


def _gain_row(gain: AreaGain, units: UnitSystem) -> list[str]:
    uncertainty = gain.expanded_uncertainty
    return [
        units.number(gain.low, "lift"),
        figure(units, gain.area_before, "port area"),
        figure(units, gain.area_after, "port area"),
        figure(units, gain.flow_before, "flow"),
        figure(units, gain.flow_after, "flow"),
        percent(100.0 * gain.gain),
        NOT_STATED if uncertainty is None else f"{100.0 * uncertainty:.1f}",
        gain.finding or gain.verdict,
    ]
