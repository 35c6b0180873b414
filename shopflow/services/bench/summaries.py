"""Summaries of flow tests, stored so that past tests can be ranked and looked up: areas and gain.

Every verb that touches a reading renews them (see `sessions`); what a schema without them left is
calculated when the database is brought up to date (see `missing_summaries`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import cast

from shopflow.calc.area_curve import AreaCurve
from shopflow.calc.flowtest import Side
from shopflow.calc.set_up import SetUp, differing
from shopflow.calc.standard_flow import standard_flow
from shopflow.units import to_si

RANKING_PRESSURE = to_si(28.0, "inH2O")
"""Pressure that areas are shown as flow at, where tests of many heads stand together."""

Summary = dict[str, float | None]
"""A flow test's stored summary, by its column."""

Port = tuple[str, str]
"""Side and cylinder."""


def summarized(tests: Iterable[tuple[Port, AreaCurve, SetUp]]) -> Iterator[Summary]:
    """The summary of each of a head's tests, given in order by their ports.

    A test on an unlike set-up has no gain, unless somebody confirmed it as meant.
    """
    firsts: dict[Port, tuple[AreaCurve, SetUp]] = {}
    for position, (port, curve, set_up) in enumerate(tests, start=1):
        first, of_first = firsts.setdefault(port, (curve, set_up))
        has_gain = first is not curve and not differing([of_first, set_up])
        yield {
            "position": position,
            "mean_area": curve.mean,
            "peak_area": curve.peak,
            "gain_over_first": curve.gain_over(first) if has_gain else None,
        }


def flow_shown(area: float, side: str, pressure: float = RANKING_PRESSURE) -> float:
    """The flow (m3/s) that an effective area is shown as: in the standard air, at a pressure."""
    return float(standard_flow(area, cast(Side, side), pressure))
