"""The charts of bench sessions, the same on paper and on screen."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from shopflow.calc.result import Result
from shopflow.calc.results import CD_CURTAIN, FLOW, FLOW_STANDARD
from shopflow.charts import Axis, Chart, Series
from shopflow.documents import ResultPoint, SessionCurve, SessionResult
from shopflow.texts import gettext, translated
from shopflow.units import US_CUSTOMARY, UnitSystem, from_si, pretty

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
    charts: list[list[SessionResult]] = []
    for port in ports.values():
        curves = port if len(port) <= MOST_CURVES else [port[0], *port[1 - MOST_CURVES :]]
        if charts and len(charts[-1]) + len(curves) <= FEW_CURVES:
            charts[-1] += curves
        else:
            charts.append(list(curves))
    return charts


class Drawable(Protocol):
    """Contents of a curve: a SessionCurve, or a whole result, which has as much."""

    @property
    def name(self) -> str:
        """Name at the end of the curve."""

    @property
    def side(self) -> str:
        """Intake or exhaust."""

    @property
    def cylinder(self) -> str:
        """Of the port."""

    @property
    def points(self) -> tuple[ResultPoint, ...]:
        """The figures lift by lift."""

    @property
    def as_received(self) -> bool:
        """True where the head was as received."""


DRAWN_FIRST = "flow"
"""The word for what is drawn unless something else is asked for."""

PLACES = 3
"""Decimals that a bare number is read with."""

POWERS = {"flow": 1, "cd_head": 1, "velocity": 1, "kinetic_energy_flux": 3}
"""Power of the flow that a result varies with, by which certificates from before each result had an
uncertainty of its own are drawn (JCGM 100:2008, 5.1.6)."""


def lift_axis(against: str, units: UnitSystem) -> Axis:
    """Lift in the shop's unit, or with "ld" over the valve's diameter."""
    if against == "ld":
        return Axis(gettext("Lift over valve diameter, L/D"))
    return Axis(gettext("Lift"), pretty(units.unit("lift")))


def lift_place(against: str, units: UnitSystem, lift: float, lift_over_diameter: float) -> float:
    """Position of a point on that axis."""
    return lift_over_diameter if against == "ld" else from_si(lift, units.unit("lift"))


def lift_places(against: str) -> int | None:
    """Decimals that a place on that axis is read with."""
    return 3 if against == "ld" else None


def curves_chart(
    title: str,
    sessions: Sequence[Drawable],
    units: UnitSystem,
    quantity: Result = FLOW_STANDARD,
    against: str = "lift",
    *,
    dash_first: bool = True,
) -> Chart:
    """One quantity of each session against "lift" or "ld", with bars where they are known.

    A port's first session is dashed, as one as received is, unless `dash_first` is off.
    """
    unit = units.unit(quantity.kind) if quantity.kind else ""
    return Chart(
        title=title,
        x=lift_axis(against, units),
        y=Axis(str(quantity.label), pretty(unit)),
        series=[
            Series(
                name=session.name,
                x=[
                    lift_place(against, units, point.lift, point.lift_over_diameter)
                    for point in session.points
                ],
                y=[_value(point, quantity, unit) for point in session.points],
                error=_bars(session.points, quantity, unit),
                as_received=session.as_received or (dash_first and is_first(sessions, session)),
            )
            for session in sessions
        ],
        places=1 if quantity.kind else PLACES,
        x_places=lift_places(against),
        nothing=gettext("No {input} recorded", input=quantity.needs)
        if quantity.needs
        else Chart.nothing,
    )


def _value(point: ResultPoint, quantity: Result, unit: str) -> float | None:
    value = point.value(_key(point, quantity))
    return from_si(value, unit) if unit and value is not None else value


def _key(point: ResultPoint, quantity: Result) -> str:
    """The result that is drawn; older documents hold the flow by the root alone."""
    is_older = quantity is FLOW_STANDARD and point.value(quantity.key) is None
    return FLOW.key if is_older else quantity.key


def _bars(points: Sequence[ResultPoint], quantity: Result, unit: str) -> list[float] | None:
    """Expanded uncertainties of the points, 0 where not stated; None where none is known."""
    errors = [_bar(point, quantity, unit) for point in points]
    return errors if any(errors) else None


def _bar(point: ResultPoint, quantity: Result, unit: str) -> float:
    key = _key(point, quantity)
    if point.flow_as_tested is not None:
        stated = point.margin(key) or 0.0
        # Uncertainties are differences; no unit here has another zero.
        return from_si(stated, unit) if unit else stated
    relative = POWERS.get(key, 0) * point.expanded_uncertainty / point.flow
    return relative * (_value(point, quantity, unit) or 0.0)


def flow_chart(title: str, sessions: Sequence[Drawable], units: UnitSystem) -> Chart:
    """Flow against lift with uncertainty bars, one curve a session."""
    return curves_chart(title, sessions, units)


def coefficient_chart(sessions: Sequence[Drawable]) -> Chart:
    """Discharge coefficient on curtain area against L/D, one curve a session."""
    sides = {session.side for session in sessions}
    named = [_with_side(session) if len(sides) > 1 else session for session in sessions]
    title = gettext("Discharge coefficient on curtain area")
    # Neither axis has a unit.
    return curves_chart(title, named, US_CUSTOMARY, CD_CURTAIN, "ld")


def _with_side(session: Drawable) -> SessionCurve:
    return SessionCurve(
        name=f"{translated(session.side)}: {session.name}",
        side=session.side,
        cylinder=session.cylinder,
        points=session.points,
        as_received=session.as_received,
    )


def is_first(sessions: Sequence[Drawable], session: Drawable) -> bool:
    """True where a test is the first of several of its port, and so drawn as received."""
    same = [
        item for item in sessions if (item.side, item.cylinder) == (session.side, session.cylinder)
    ]
    return len(same) > 1 and same[0] is session
