"""Tables of certificates from before the flow as tested was printed, as they were issued."""

from __future__ import annotations

from reportlab.platypus import Flowable

from shopflow.documents import Gain, GainPoint, SessionResult
from shopflow.papers.numbers import coefficient, figure, percent, signed
from shopflow.papers.style import STRONG, gap, para
from shopflow.papers.tables import Column, grid, headed
from shopflow.texts import gettext
from shopflow.units import UnitSystem, pretty


def brief_row(session: SessionResult, gain: Gain | None, units: UnitSystem) -> list[str]:
    """A row of a certificate from before the flow as tested was printed."""
    best = max(session.points, key=lambda point: point.flow)
    return [
        session.title,
        figure(units, best.flow, "flow"),
        figure(units, best.expanded_uncertainty or None, "flow"),
        figure(units, best.lift, "lift"),
        figure(units, session.mean_flow, "flow"),
        percent(gain.mean_gain_percent if gain else None),
    ]


def results_table(session: SessionResult, units: UnitSystem, width: float) -> Flowable:
    """The table of a certificate from before the flow as tested was printed."""
    columns = [
        headed(gettext("Lift"), "lift", units),
        Column("L/D", figures=True),
        Column(gettext("Runs"), figures=True),
        headed(gettext("Flow"), "flow", units),
        headed("± U", "flow", units),
        Column(gettext("Cd curtain"), figures=True),
        Column(gettext("Cd head"), figures=True),
        Column(gettext("Cd least valve area"), figures=True),
        headed(gettext("Velocity"), "velocity", units),
        headed(gettext("Kinetic energy flux"), "power", units),
    ]
    rows = [
        [
            units.number(point.lift, "lift"),
            coefficient(point.lift_over_diameter),
            str(point.runs),
            figure(units, point.flow, "flow"),
            figure(units, point.expanded_uncertainty or None, "flow"),
            coefficient(point.cd_curtain),
            coefficient(point.cd_head),
            coefficient(point.cd_least_area),
            figure(units, point.velocity, "velocity"),
            figure(units, point.kinetic_energy_flux, "power"),
        ]
        for point in session.points
    ]
    return grid(columns, rows, width, 1.8)


def gain_table(gain: Gain, units: UnitSystem, width: float) -> list[Flowable]:
    """The table of a certificate from before gains were judged on the effective area."""
    flow = pretty(units.unit("flow"))
    columns = [
        headed(gettext("Lift"), "lift", units),
        Column(gettext("Before, {flow}", flow=flow), figures=True),
        Column(gettext("After, {flow}", flow=flow), figures=True),
        Column(gettext("Gain, {flow}", flow=flow), figures=True),
        Column(f"± U, {flow}", figures=True),
        Column(gettext("Gain, %"), figures=True),
        Column(gettext("Finding"), width=96),
    ]
    rows = [
        [
            units.number(point.lift, "lift"),
            figure(units, point.before, "flow"),
            figure(units, point.after, "flow"),
            signed(figure(units, point.gain, "flow")),
            figure(units, point.expanded_uncertainty or None, "flow"),
            percent(point.gain_percent),
            _finding(point),
        ]
        for point in gain.points
    ]
    mean = gettext(
        "Mean gain over the lifts both tests cover: {mean_gain_percent} %",
        mean_gain_percent=percent(gain.mean_gain_percent),
    )
    summary = [gap(3), para(mean, STRONG)] if gain.mean_gain_percent is not None else []
    return [grid(columns, rows, width, 1.8), *summary]


def _finding(point: GainPoint) -> str:
    if not point.expanded_uncertainty:
        return gettext("uncertainty not stated")
    if not point.significant:
        return gettext("no measurable difference")
    return gettext("gain") if point.gain > 0 else gettext("loss")
