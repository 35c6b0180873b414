"""What the session pages show: figures and the charts drawn from them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from shopflow.charts import Chart, layout, svg
from shopflow.models import BenchSession
from shopflow.papers.curves import batches, coefficient_chart, flow_chart, gain_chart
from shopflow.papers.data import Gain, SessionResult
from shopflow.services import outcomes
from shopflow.sessionfile import SessionDocument
from shopflow.web.context import system


@dataclass(frozen=True)
class SessionFigures:
    """A session's figures, and its curves beside others'."""

    result: SessionResult
    charts: tuple[Markup, ...]


@dataclass(frozen=True)
class ComparisonFigures:
    """Two sessions against each other."""

    gain: Gain
    charts: tuple[Markup, ...]


@dataclass(frozen=True)
class TitledChart:
    """A chart, and what stands over it."""

    title: str
    drawing: Markup


def session_figures(row: BenchSession, same_side: Sequence[BenchSession]) -> SessionFigures:
    """A stored session, drawn with the others of its side on this head."""
    results = {other.id: outcomes.session_result(other) for other in same_side}
    mine = results[row.id]
    # Of a head with many ports, this port's curves and those they fit beside.
    drawn = next(batch for batch in batches(list(results.values())) if mine in batch)
    return SessionFigures(mine, _flow_and_coefficient(drawn))


def trial_figures(document: SessionDocument, yardstick: BenchSession | None) -> SessionFigures:
    """A session not kept yet, drawn over the one it is held against."""
    mine = outcomes.document_result(document, name="this test", calibration="")
    before = [outcomes.session_result(yardstick)] if yardstick else []
    return SessionFigures(mine, _flow_and_coefficient([*before, mine]))


def comparison_figures(before: BenchSession, after: BenchSession) -> ComparisonFigures:
    """Two sessions of a head: gain by lift, and both curves."""
    gain = outcomes.gain(before, after)
    results = [outcomes.session_result(row) for row in (before, after)]
    charts = (
        _draw(flow_chart("Flow of both sessions", results, system()), "flow"),
        _draw(gain_chart(gain, system()), "gain"),
        _draw(coefficient_chart(results), "coefficient"),
    )
    return ComparisonFigures(gain, charts)


def flow_charts(results: Sequence[SessionResult], prefix: str) -> list[TitledChart]:
    """Flow curves of sessions of one head, a chart a side; `prefix` tells them from others' ids."""
    found: list[TitledChart] = []
    for side in dict.fromkeys(result.side for result in results):
        for drawn in batches([result for result in results if result.side == side]):
            title = f"{side.capitalize()} flow against lift"
            chart = flow_chart(title, drawn, system())
            found.append(TitledChart(title, _draw(chart, f"{prefix}-{len(found)}")))
    return found


def _flow_and_coefficient(results: Sequence[SessionResult]) -> tuple[Markup, ...]:
    return (
        _draw(flow_chart("Flow against lift", results, system()), "flow"),
        _draw(coefficient_chart(results), "coefficient"),
    )


def _draw(chart: Chart, prefix: str) -> Markup:
    # The text in it was escaped when the drawing was written.
    return Markup(svg.render(layout(chart, 560.0, 300.0), prefix))
