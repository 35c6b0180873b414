"""Lines of a job on its work order: parts to tick off, work outside, and the rest."""

from __future__ import annotations

from reportlab.lib.units import mm
from reportlab.platypus import Flowable

from shopflow.documents import Display
from shopflow.documents.bench_lines import BenchLines, PartToFit, WorkOutside
from shopflow.papers.style import CELL, SMALL, bullets, heading, para
from shopflow.papers.tables import Column, grid
from shopflow.texts import gettext

ROW = 7 * mm
WITH_NUMBER = 10 * mm
"""Height of a row with a part number, at most."""

TOGETHER = 6
"""Rows that stay with their heading."""


def bench_lines(lines: BenchLines, display: Display, width: float, title: str) -> list[Flowable]:
    """The lines under a heading of their own; nothing where there are none."""
    story: list[Flowable] = []
    if lines.parts:
        story += [*heading(title, _room(len(lines.parts))), _parts(lines.parts, width)]
    if lines.outside:
        room = _room(len(lines.outside))
        story += [*heading(gettext("Work outside"), room), _outside(lines.outside, display, width)]
    if lines.others:
        story += [*heading(gettext("Also on this job"), 16 * mm), *bullets(lines.others)]
    return story


def _room(rows: int) -> float:
    """Room for a heading with the rows of its table, or with the first of many."""
    return 18 * mm + min(rows, TOGETHER) * WITH_NUMBER


def _parts(parts: tuple[PartToFit, ...], width: float) -> Flowable:
    columns = [
        Column(gettext("Quantity"), figures=True, width=20 * mm),
        Column(gettext("Part"), share=0.6),
        Column(gettext("For step"), share=0.4),
        Column(gettext("Here"), width=24 * mm, boxed=True),
        Column(gettext("Fitted"), width=24 * mm, boxed=True),
    ]
    return grid(columns, [_part(part) for part in parts], width, row_height=ROW)


def _part(part: PartToFit) -> list[object]:
    words = [para(part.what, CELL)]
    if part.part_number:
        words.append(para(gettext("Part number {number}", number=part.part_number), SMALL))
    here = gettext("yes") if part.is_here or part.is_fitted else part.state
    return [part.quantity, words, part.step, here, gettext("yes") if part.is_fitted else ""]


def _outside(rows: tuple[WorkOutside, ...], display: Display, width: float) -> Flowable:
    columns = [
        Column(gettext("Work"), share=0.6),
        Column(gettext("Vendor"), share=0.4),
        Column(gettext("Sent"), width=26 * mm, boxed=True),
        Column(gettext("Due"), width=26 * mm, boxed=True),
        Column(gettext("Back"), width=26 * mm, boxed=True),
    ]
    cells = [
        [
            row.what,
            row.vendor,
            *(display.day(day) if day else "" for day in (row.sent_on, row.due_on, row.back_on)),
        ]
        for row in rows
    ]
    return grid(columns, cells, width, row_height=ROW)
