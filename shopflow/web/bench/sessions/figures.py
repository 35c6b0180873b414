"""Results on the pages of flow tests, and the charts drawn from them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from markupsafe import Markup

from shopflow import set_up_words
from shopflow.calc.array_types import Against
from shopflow.calc.reduction import Reduction
from shopflow.calc.set_up import unlike_parts
from shopflow.documents import SessionResult, TrialResult
from shopflow.documents.past_results import PastBand
from shopflow.models import BenchSession, Visit
from shopflow.papers import budget, several_pressures
from shopflow.papers.curves import (
    DRAWN_FIRST,
    Drawable,
    batches,
    coefficient_chart,
    curves_chart,
    flow_chart,
)
from shopflow.papers.result_band_chart import behind
from shopflow.services.analysis import comparisons
from shopflow.services.bench import bands, reference_curves, sessions, test_results
from shopflow.services.measuring import uncertainties
from shopflow.testfile import SessionDocument
from shopflow.texts import gettext, translated
from shopflow.web.context import system
from shopflow.web.db import db
from shopflow.web.drawing import USUAL_SIZE, Drawn, Size, View, draw


@dataclass(frozen=True)
class SessionFigures:
    """A session's figures, and its curves beside others'."""

    result: SessionResult
    charts: tuple[Drawn, ...]
    over_pressures: Drawn | None
    """Coefficients by lift and pressure ratio; none of a test at one pressure."""

    exponent_rows: list[tuple[str, ...]]


@dataclass(frozen=True)
class TrialFigures:
    """Results of a test not saved yet, and its curve over another's."""

    result: TrialResult
    charts: tuple[Drawn, ...]


@dataclass(frozen=True)
class ComponentTable:
    """The uncertainty budget of a session's highest flow, as its certificate prints it."""

    headings: tuple[str, ...]
    rows: list[tuple[str, ...]]
    summary: str


@dataclass(frozen=True)
class TitledChart:
    """A chart, and what stands over it."""

    title: str
    drawing: Markup


def component_table(result: SessionResult) -> ComponentTable | None:
    """Uncertainty components of a test; None where it states no uncertainty."""
    uncertainty = result.budget
    if uncertainty is None:
        return None
    rows = budget.rows(uncertainty.lines, system())
    return ComponentTable(budget.HEADINGS, rows, budget.summary(uncertainty, system()))


def session_figures(
    row: BenchSession, same_side: Sequence[BenchSession], view: View
) -> SessionFigures:
    """A stored session, drawn with the others of its side on this head."""
    results = {other.id: test_results.session_result(other) for other in same_side}
    mine = results[row.id]
    past = _past(row.job_head, sessions.reduction(row), view)
    # Of a head with many ports, this port's curves and those they fit beside.
    fitting = next(batch for batch in batches(list(results.values())) if mine in batch)
    chart = several_pressures.pressure_chart(mine.at_pressures, system())
    return SessionFigures(
        mine,
        _charts(fitting, view, past),
        draw(chart, "pressures") if chart.series else None,
        several_pressures.exponent_rows(mine.exponents, system()),
    )


def against_first(
    row: BenchSession, same_side: Sequence[BenchSession]
) -> comparisons.Difference | None:
    """A test against the first one of its port; None for that one, or a withdrawn one."""
    first = next((other for other in same_side if other.cylinder == row.cylinder), row)
    if first is row or not row.counts:
        return None
    before, after = comparisons.members([first, row])
    return comparisons.difference(before, after, Against.LIFT, uncertainties.usual(db()))


def trial_figures(
    visit: Visit,
    document: SessionDocument,
    reduction: Reduction,
    over: str,
    size: Size = USUAL_SIZE,
) -> TrialFigures:
    """A test not saved yet, over the one of this key, or else the latest, and past results."""
    mine = test_results.trial_result(document, reduction, name=gettext("this test"))
    before = reference_curves.chosen(db(), visit, over, document.side)
    unlike = unlike_parts(before.set_up, mine.set_up) if before and before.side == mine.side else ()
    if unlike:
        mine = replace(mine, warnings=(*mine.warnings, set_up_words.at_the_bench(unlike)))
    past = _past(visit, reduction, View())
    return TrialFigures(mine, _charts([before, mine] if before else [mine], View(), past, size))


def curve_before(visit: Visit, over: str, side: str, size: Size) -> Drawn | None:
    """Curve of the test that the next one is drawn over; none where there is none."""
    before = reference_curves.chosen(db(), visit, over, side)
    return _charts([before], View(), None, size)[0] if before else None


def _past(visit: Visit, reduction: Reduction, view: View) -> PastBand | None:
    """Past results of other heads of this engine type, at this test's reference pressure, where
    flow through the effective area is drawn."""
    if view.plot != DRAWN_FIRST:
        return None
    over = "L/D" if view.against is Against.OVER_DIAMETER else "lift"
    kind = visit.head.engine_type
    test = reduction.test
    band = bands.band_for(db(), kind, test.side, over=over, but_tag=visit.tag, set_up=test.set_up)
    return band.past_band(float(reduction.terms.standard_flow[0]))


def _charts(
    results: Sequence[Drawable], view: View, past: PastBand | None, size: Size = USUAL_SIZE
) -> tuple[Drawn, ...]:
    chart = curves_chart(view.title, results, system(), view.quantity, view.against)
    main = draw(behind(chart, past, system()), "curves", size.width, size.height)
    return main, draw(coefficient_chart(results), "coefficient")


def flow_charts(results: Sequence[SessionResult], prefix: str) -> list[TitledChart]:
    """Flow curves of tests of one head, a chart a side; `prefix` keeps their ids unique."""
    charts: list[TitledChart] = []
    for side in dict.fromkeys(result.side for result in results):
        for batch in batches([result for result in results if result.side == side]):
            title = gettext(
                "{capitalize} flow against lift", capitalize=translated(side).capitalize()
            )
            drawing = draw(flow_chart(title, batch, system()), f"{prefix}-{len(charts)}")
            charts.append(TitledChart(title, drawing.drawing))
    return charts
