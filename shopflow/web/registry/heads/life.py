"""The life of a casting as its page shows it: a column a visit, a row a kind of measurement."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from markupsafe import Markup

from shopflow.charts import svg
from shopflow.charts.trend import Trend, layout_trend
from shopflow.models import Head, Visit
from shopflow.services.measuring import casting_trends, limit_checks
from shopflow.services.measuring.casting_trends import TrendRow
from shopflow.texts import gettext
from shopflow.web.db import db

FEWEST_FOR_A_TREND = 2


@dataclass(frozen=True)
class Life:
    """A casting's visits, its tests in words by visit, and its trends with their drawings."""

    visits: list[Visit]
    tested: list[str]
    rows: list[tuple[TrendRow, Markup | None]]


def of_head(head: Head) -> Life:
    """The life of a casting."""
    visits = casting_trends.visits_of(head)
    tested = [_tested(visit) for visit in visits]
    rows = casting_trends.trends(db(), head)
    drawn = [(row, _drawn(row, f"trend-{number}")) for number, row in enumerate(rows)]
    return Life(visits, tested if any(tested) else [], drawn)


def _tested(visit: Visit) -> str:
    """The latest test of each place, counted by its verdict: "Vacuum test: 15 passed, 1 watch"."""
    counts = Counter(
        (row.title, row.result) for row in limit_checks.latest_tests(visit.integrity_tests)
    )
    by_title: dict[str, list[str]] = {}
    for (title, result), count in counts.items():
        by_title.setdefault(title, []).append(result if count == 1 else f"{count} {result}")
    return "; ".join(f"{title}: {', '.join(words)}" for title, words in by_title.items())


def _drawn(row: TrendRow, key: str) -> Markup | None:
    """The drawing of a trend; none for fewer than two visits."""
    ranges = [pair for pair in row.ranges if pair is not None]
    if len(ranges) < FEWEST_FOR_A_TREND:
        return None
    cells = [row.cell(index) for index, pair in enumerate(row.ranges) if pair is not None]
    words = f"{', '.join(cells)} {row.unit}"
    title = gettext("Trend of {name}", name=row.name)
    lower, upper = row.bounds
    # The text in it was escaped when the drawing was written.
    return Markup(svg.render(layout_trend(Trend(title, words, ranges, lower, upper)), key))
