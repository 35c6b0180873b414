"""The charts of bench sessions, the same on paper and on screen."""

from __future__ import annotations

from collections.abc import Sequence

from shopflow.charts import Axis, Chart, Series
from shopflow.papers.data import Gain, SessionResult
from shopflow.units import UnitSystem, from_si, pretty

MOST_CURVES = 8
"""Curves that colour and mark tell apart."""

FEW_CURVES = 4
"""Curves a chart gets where there are too many for one."""


def batches(sessions: Sequence[SessionResult]) -> list[list[SessionResult]]:
    """The sessions of each chart: one chart where they are few, else a few ports a chart.

    A port's sessions stay together; of more than eight the first and the latest are drawn.
    """
    if len(sessions) <= MOST_CURVES:
        return [list(sessions)] if sessions else []
    ports: dict[tuple[str, str], list[SessionResult]] = {}
    for session in sessions:
        ports.setdefault((session.side, session.cylinder), []).append(session)
    found: list[list[SessionResult]] = []
    for port in ports.values():
        drawn = port if len(port) <= MOST_CURVES else [port[0], *port[1 - MOST_CURVES :]]
        if found and len(found[-1]) + len(drawn) <= FEW_CURVES:
            found[-1] += drawn
        else:
            found.append(list(drawn))
    return found


def flow_chart(title: str, sessions: Sequence[SessionResult], units: UnitSystem) -> Chart:
    """Flow against lift with uncertainty bars, one curve a session."""
    lift, flow = units.unit("lift"), units.unit("flow")
    return Chart(
        title=title,
        x=Axis("Lift", pretty(lift)),
        y=Axis("Flow", pretty(flow)),
        series=[
            Series(
                name=session.name,
                x=[from_si(point.lift, lift) for point in session.points],
                y=[from_si(point.flow, flow) for point in session.points],
                error=[from_si(point.expanded_uncertainty, flow) for point in session.points],
                as_received=session.as_received or is_first(sessions, session),
            )
            for session in sessions
        ],
    )


def coefficient_chart(sessions: Sequence[SessionResult]) -> Chart:
    """Discharge coefficient on curtain area against L/D, one curve a session."""
    sides = {session.side for session in sessions}
    return Chart(
        title="Discharge coefficient on curtain area",
        x=Axis("Lift over valve diameter, L/D"),
        y=Axis("Cd, curtain"),
        series=[
            Series(
                name=f"{session.side}: {session.name}" if len(sides) > 1 else session.name,
                x=[point.lift_over_diameter for point in session.points],
                y=[point.cd_curtain for point in session.points],
                as_received=session.as_received or is_first(sessions, session),
            )
            for session in sessions
        ],
        places=3,
    )


def gain_chart(gain: Gain, units: UnitSystem) -> Chart:
    """Gain in flow against lift, with its uncertainty."""
    lift, flow = units.unit("lift"), units.unit("flow")
    return Chart(
        title=f"{gain.after} against {gain.before}",
        x=Axis("Lift", pretty(lift)),
        y=Axis("Gain in flow", pretty(flow)),
        series=[
            Series(
                name="gain ± U",
                x=[from_si(point.lift, lift) for point in gain.points],
                y=[from_si(point.gain, flow) for point in gain.points],
                error=[from_si(point.expanded_uncertainty, flow) for point in gain.points],
            )
        ],
    )


def is_first(sessions: Sequence[SessionResult], session: SessionResult) -> bool:
    """Whether a session is the first of several of its port, and so drawn as received."""
    same = [
        item for item in sessions if (item.side, item.cylinder) == (session.side, session.cylinder)
    ]
    return len(same) > 1 and same[0] is session
