"""The engine's section of the page: its words and its chart."""

from __future__ import annotations

from dataclasses import dataclass

from shopflow.documents import Display, EngineView, Figure
from shopflow.papers.engine_view import (
    ABOUT,
    cautions,
    demand_chart,
    demand_figures,
    of_kind,
    potential_figures,
    range_rows,
    remarks,
    reported_rows,
)
from shopflow.web.drawing import Drawn, draw


@dataclass(frozen=True)
class EngineWords:
    """Everything the section says, in the shop's units."""

    remarks: list[str]
    demand: list[Figure]
    potential: list[Figure]
    cautions: list[str]
    ranges: list[tuple[str, str]]
    reported: list[tuple[str, str, str]]
    saved: str
    about: tuple[str, ...]


def in_words(view: EngineView, display: Display) -> EngineWords:
    """The section's words."""
    units = display.units
    return EngineWords(
        remarks=remarks(view),
        demand=demand_figures(view, units),
        potential=potential_figures(view, units),
        cautions=cautions(view),
        ranges=range_rows(view),
        reported=reported_rows(view, display),
        saved=_saved(view, display),
        about=ABOUT,
    )


def engine_chart(view: EngineView) -> Drawn | None:
    """The demand over crank angle, where a rod length is known."""
    curve = view.demand.curve
    if curve is None:
        return None
    return draw(demand_chart(curve, view.speed), "demand", 640.0, 320.0)


def _saved(view: EngineView, display: Display) -> str:
    """The saved forecast: its power, else its air."""
    if view.saved is None:
        return ""
    if view.saved.power is None:
        return of_kind(view.saved.air, display.units, "mass flow")
    return of_kind(view.saved.power, display.units, "engine power")
