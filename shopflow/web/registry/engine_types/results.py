"""Past results on the page of an engine type."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from flask import url_for
from markupsafe import Markup

from shopflow.calc.hints import Hint
from shopflow.charts import Axis, Chart
from shopflow.documents.past_results import Dot, PastCurve
from shopflow.papers.result_band_chart import past_chart, scatter_chart
from shopflow.services.bench import bands, sessions
from shopflow.services.bench import hints as bench_hints
from shopflow.services.bench.bands import Band, Ranked, Ranking, Step
from shopflow.services.bench.past_tests import Result
from shopflow.services.bench.summaries import flow_shown
from shopflow.texts import gettext, translated
from shopflow.units import from_si, pretty
from shopflow.web.context import system
from shopflow.web.db import db
from shopflow.web.drawing import draw

FEW_CURVES = 4
"""Curves drawn themselves where they are too few, or too unlike in range, for a band."""

Sizes = Callable[[Result], float | None]


@dataclass(frozen=True)
class Best:
    """The best so far, what was done to get it, and what its curve may say."""

    ranked: Ranked
    steps: list[Step]
    hints: list[Hint]


@dataclass(frozen=True)
class PastResults:
    """Past tests side by side; charts with fewer than two points are left out."""

    ranking: Ranking
    band: Band
    chart: Markup
    best: Best
    scatters: tuple[Markup, ...]
    set_ups: int
    """Number of set-ups that the tests stood on, those that state none as one."""


def past_results(tests: Sequence[Result], side: str, stage: str, over: str) -> PastResults | None:
    """These results as the page shows them; none where there are none."""
    ranking = bands.ranking(tests)
    best = ranking.best
    if best is None:
        return None
    band = bands.band_of(tests, side, stage, over)
    row = sessions.get(db(), best.result.session_id)
    steps = bands.what_was_done(db(), best.result)
    return PastResults(
        ranking=ranking,
        band=band,
        chart=draw(_band_chart(band, ranking), "band").drawing,
        best=Best(best, steps, bench_hints.hints_on(db(), row)),
        scatters=tuple(_scatters(ranking)),
        set_ups=len({tuple(sorted(test.set_up.stated)) for test in tests}),
    )


def _band_chart(band: Band, ranking: Ranking) -> Chart:
    """The band with the best test before it, or the single curves where these are few."""
    past = band.past_band()
    curves_drawn = ranking.ranked[: 1 if past else FEW_CURVES]
    curves = [_curve(ranked, band.over) for ranked in curves_drawn]
    return past_chart(
        gettext("Past results, {side}", side=translated(band.side)),
        curves,
        past,
        band.over,
        system(),
    )


def _curve(ranked: Ranked, over: str) -> PastCurve:
    result = ranked.result
    place = gettext("best") if ranked.place == 1 else ranked.place
    name = f"{place}: {result.tag}, {translated(result.stage)}"
    curve = result.curve(over)
    flows = tuple(flow_shown(area, result.side) for area in curve.y)
    return PastCurve(name, curve.x, flows, result.as_received)


def _scatters(ranking: Ranking) -> list[Markup]:
    """Each measurement against the result it is held to govern."""
    area, velocity = system().unit("port area"), system().unit("velocity")
    charts = (
        _scatter(
            ranking,
            gettext("Throat ratio against greatest coefficient"),
            Axis(gettext("Throat over valve head diameter")),
            Axis(gettext("Greatest Cd, head area")),
            lambda result: result.throat_ratio,
            lambda result: result.peak_coefficient,
            3,
        ),
        _scatter(
            ranking,
            gettext("Seat angle against coefficient at low lift"),
            Axis(gettext("Seat angle"), "°"),
            Axis(gettext("Mean Cd, curtain, to L/D 0.15")),
            lambda result: result.seat_angle,
            lambda result: result.low_lift_coefficient,
            3,
        ),
        _scatter(
            ranking,
            gettext("Port area against mean velocity"),
            Axis(gettext("Port area"), pretty(area)),
            Axis(gettext("Mean velocity"), pretty(velocity)),
            lambda result: _in(result.setup.port_area, area),
            lambda result: _in(result.mean_velocity, velocity),
            1,
        ),
    )
    return [
        draw(chart, f"scatter-{index}").drawing
        for index, chart in enumerate(charts)
        if chart is not None
    ]


def _scatter(
    ranking: Ranking, title: str, x: Axis, y: Axis, across: Sizes, up: Sizes, decimals: int
) -> Chart | None:
    dots = []
    for number, ranked in enumerate(ranking.ranked, start=1):
        there, high = across(ranked.result), up(ranked.result)
        if there is not None and high is not None:
            link = url_for("sessions.session", session_id=ranked.result.session_id)
            dots.append(Dot(str(number), there, high, ranked.result.as_received, link))
    return scatter_chart(title, x, y, dots, decimals) if len(dots) > 1 else None


def _in(si: float | None, unit: str) -> float | None:
    return None if si is None else from_si(si, unit)
