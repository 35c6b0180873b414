"""Blocks: what is set apart or stands beside another, cautions, lines to sign on."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Flowable, TableStyle

from shopflow.documents.cautions import DEFERRAL
from shopflow.papers.style import (
    CAUTION,
    CELL_BOLD,
    INK,
    SHADE,
    SMALL,
    bare,
    bullets,
    gap,
    para,
    subheading,
)
from shopflow.papers.tables import PLAIN, cell_style, placed
from shopflow.papers.tagged_tables import pairs
from shopflow.texts import gettext


def boxed(content: Sequence[Flowable], width: float) -> Flowable:
    """Something set apart on a light ground, with a dark bar beside it."""
    table = placed([[item] for item in content], colWidths=[width], splitInRow=1, hAlign="LEFT")
    table.setStyle(
        TableStyle(
            [
                *PLAIN,
                ("BACKGROUND", (0, 0), (-1, -1), SHADE),
                ("LINEBEFORE", (0, 0), (0, -1), 2.2, INK),
                *_padding(10, 10, 1.2),
                ("TOPPADDING", (0, 0), (-1, 0), 6),
                ("BOTTOMPADDING", (0, -1), (-1, -1), 6),
            ]
        )
    )
    return table


BETWEEN = 6 * mm
"""Room between two blocks beside each other."""


def half_of(width: float) -> float:
    """Width of each of two blocks beside each other."""
    return (width - BETWEEN) / 2


def beside_each_other(blocks: Sequence[list[Flowable]], width: float) -> list[Flowable]:
    """Blocks as wide as `half_of` says, two in a row."""
    rows = [blocks[place : place + 2] for place in range(0, len(blocks), 2)]
    bare = {"leftPadding": 0, "topPadding": 0, "bottomPadding": 0}
    styles = [cell_style(rightPadding=BETWEEN, **bare), cell_style(rightPadding=0, **bare)]
    half = half_of(width)
    return [
        placed(
            [[row[0], row[1] if len(row) > 1 else ""]],
            colWidths=[half + BETWEEN, half],
            hAlign="LEFT",
            cellStyles=[styles],
        )
        for row in rows
    ]


def take_care(texts: Sequence[str], width: float) -> list[Flowable]:
    """Cautions, set apart, with what they give way to; nothing where there are none."""
    if not texts:
        return []
    content = [
        subheading(gettext("Take care"), level=2),
        *bullets(texts, style=CAUTION),
        para(DEFERRAL, SMALL),
    ]
    return [gap(10), CondPageBreak(40 * mm), boxed(content, width)]


def signatures(columns: Sequence[tuple[str, str, float]], width: float) -> Flowable:
    """Lines to sign on: what each is for, what stands on it already, its share of the width."""
    shares = [share for _, _, share in columns]
    table = placed(
        [
            [cell for _, signed, _ in columns for cell in (bare(signed, CELL_BOLD), "")],
            [cell for label, _, _ in columns for cell in (bare(label, SMALL), "")],
        ],
        pairs(
            [
                ((1, 2 * at), (0, 2 * at) if signed else None)
                for at, (_, signed, _) in enumerate(columns)
            ]
        ),
        colWidths=[part for share in shares for part in (width * share - 12, 12)],
        minRowHeights=[14 * mm, 0.0],
    )
    lines: list[Any] = [
        ("LINEBELOW", (index, 0), (index, 0), 0.7, INK) for index in range(0, 2 * len(columns), 2)
    ]
    table.setStyle(
        TableStyle([*PLAIN, ("VALIGN", (0, 0), (-1, 0), "BOTTOM"), *lines, *_padding(0, 0, 2)])
    )
    return table


def _padding(left: float, right: float, above: float) -> list[tuple[Any, ...]]:
    sides = {"LEFT": left, "RIGHT": right, "TOP": above, "BOTTOM": above}
    return [(f"{side}PADDING", (0, 0), (-1, -1), size) for side, size in sides.items()]
