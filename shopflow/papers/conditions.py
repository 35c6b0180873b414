"""A certificate's test conditions: what all tests share once, the rest test by test."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.platypus import Flowable

from shopflow.documents import Display, SessionResult
from shopflow.papers.style import CELL, CELL_BOLD, SMALL, gap, heading, para
from shopflow.papers.tables import Column, facts, grid
from shopflow.texts import gettext

BESIDE = 4
"""Tests beside each other."""


def conditions_block(
    sessions: Sequence[SessionResult], display: Display, width: float
) -> list[Flowable]:
    """The conditions of all tests of a certificate."""
    rows = _rows(sessions, display)
    shared = [(name, values[0]) for name, values in rows.items() if len(set(values)) == 1]
    story = [*heading(gettext("Test conditions")), *facts(shared, width)]
    differing = {name: values for name, values in rows.items() if len(set(values)) > 1}
    for start in range(0, len(sessions) if differing else 0, BESIDE):
        part = slice(start, start + BESIDE)
        columns = [
            Column("", share=0.14),
            *(Column(item.title, share=0.215) for item in sessions[part]),
        ]
        cells = [
            [para(name, SMALL), *(_cell(value) for value in values[part])]
            for name, values in differing.items()
        ]
        story += [gap(4), grid(columns, cells, width, 0.8)]
    return story


def _cell(value: str) -> Flowable:
    return para(value or "–", CELL_BOLD if "OVERDUE" in value else CELL)


def _rows(sessions: Sequence[SessionResult], display: Display) -> dict[str, list[str]]:
    """Each condition with its value in every test, empty where a test has none."""
    names = dict.fromkeys(name for item in sessions for name, _ in _stated(item, display))
    values = [dict(_stated(item, display)) for item in sessions]
    return {name: [own.get(name, "") for own in values] for name in names}


def _stated(session: SessionResult, display: Display) -> list[tuple[str, str]]:
    units = display.units
    return [
        *((name, value or gettext("not recorded")) for name, value in session.conditions),
        (gettext("Air density"), units.text(session.air_density, "density")),
        (gettext("Tested"), display.moment(session.measured_at, clock=True)),
        (gettext("Operator"), session.operator or gettext("not recorded")),
        (gettext("Restated to"), session.reference_pressure),
        (gettext("Mean flow by the root"), units.text(session.mean_flow, "flow")),
        (gettext("Calibration relied on"), session.calibration or gettext("not recorded")),
    ]
