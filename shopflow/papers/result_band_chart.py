"""Charts of past results: a band behind curves, and measurements against results."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

from shopflow.charts import Axis, Band, Chart, Series
from shopflow.documents.past_results import Dot, PastBand, PastCurve
from shopflow.texts import gettext
from shopflow.units import UnitSystem, from_si, pretty

MOST_LABELS = 40
"""Points that get a number each; more would cover the points."""


def behind(chart: Chart, past: PastBand | None, units: UnitSystem) -> Chart:
    """A chart of flow, with a band behind it where there is one.

    The chart's axes must be the band's, in the units the shop reads, as `curves.flow_chart` has
    them over lift.
    """
    if past is None:
        return chart
    flow = units.unit("flow")
    columns = {
        name: [from_si(value, flow) for value in getattr(past, name)]
        for name in ("low", "middle", "high", "least", "greatest")
    }
    band = Band(past.name, _along(past.x, past.over, units), **columns)
    return dataclasses.replace(chart, bands=(*chart.bands, band))


def past_chart(
    title: str,
    curves: Sequence[PastCurve],
    past: PastBand | None,
    over: str,
    units: UnitSystem,
) -> Chart:
    """Past curves of flow over lift or L/D, the band behind them."""
    flow = units.unit("flow")
    lift = Axis(gettext("Lift"), pretty(units.unit("lift")))
    chart = Chart(
        title=title,
        x=lift if over == "lift" else Axis(gettext("Lift over valve diameter, L/D")),
        y=Axis(gettext("Effective area as flow at 28 inH₂O"), pretty(flow)),
        series=[
            Series(
                name=curve.name,
                x=_along(curve.x, over, units),
                y=[from_si(value, flow) for value in curve.y],
                as_received=curve.as_received,
            )
            for curve in curves
        ],
    )
    return behind(chart, past, units)


def scatter_chart(title: str, x: Axis, y: Axis, dots: Sequence[Dot], places: int) -> Chart:
    """Points without a line: tests as received open, later ones filled."""
    return Chart(
        title=title,
        x=x,
        y=y,
        series=[
            _points(name, [dot for dot in dots if dot.as_received is received], len(dots))
            for name, received in ((gettext("after work"), False), (gettext("as received"), True))
            if any(dot.as_received is received for dot in dots)
        ],
        places=places,
        from_zero=False,
        x_from_zero=False,
    )


def _points(name: str, dots: Sequence[Dot], of: int) -> Series:
    return Series(
        name=name,
        x=[dot.x for dot in dots],
        y=[dot.y for dot in dots],
        as_received=name == "as received",
        joined=False,
        labels=[dot.label for dot in dots] if of <= MOST_LABELS else (),
        links=[dot.link for dot in dots],
    )


def _along(values: Sequence[float], over: str, units: UnitSystem) -> list[float]:
    """Places along the axis, a lift in the shop's unit."""
    if over == "lift":
        return [from_si(value, units.unit("lift")) for value in values]
    return list(values)
