"""The type and colours all papers share, and the pieces of text set in them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from reportlab.lib import colors
from reportlab.lib.enums import TA_CENTER, TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Flowable, HRFlowable, Spacer

from shopflow import fonts
from shopflow.papers.structure import CURRENT, Tag, artifact
from shopflow.papers.text import Text

INK = colors.HexColor("#1c2430")
SOFT = colors.HexColor("#5a6472")
RULE = colors.HexColor("#c3cad3")
SHADE = colors.HexColor("#f1f4f7")


def _style(name: str, size: float, **rest: Any) -> ParagraphStyle:
    settings: dict[str, Any] = {
        "fontName": fonts.REGULAR,
        "bulletFontName": fonts.REGULAR,
        "fontSize": size,
        "leading": size * 1.28,
        "textColor": INK,
    }
    return ParagraphStyle(name, **(settings | rest))


SMALLEST = 8.5
"""Points; nothing on a paper is set smaller."""

TITLE = _style("title", 20, fontName=fonts.BOLD)
SUBTITLE = _style("subtitle", 10.5, spaceAfter=6)
HEADING = _style("heading", 11.5, fontName=fonts.BOLD, spaceBefore=9, spaceAfter=3)
BODY = _style("body", 9)
SPACED = _style("spaced", 9, spaceAfter=3)
STRONG = _style("strong", 9, fontName=fonts.BOLD)
SMALL = _style("small", SMALLEST, textColor=SOFT)
NOTE = _style("note", SMALLEST, spaceBefore=3)
CENTRED = _style("centred", SMALLEST, textColor=SOFT, alignment=TA_CENTER)
LABEL = _style("label", SMALLEST, textColor=SOFT, leading=11.2)
CELL = _style("cell", 8.8, leading=11.2)
CELL_RIGHT = _style("cell-right", 8.8, leading=11.2, alignment=TA_RIGHT)
CELL_BOLD = _style("cell-bold", 8.8, leading=11.2, fontName=fonts.BOLD)
COLUMN = _style("column", SMALLEST, leading=9.8, fontName=fonts.BOLD, textColor=SOFT)
COLUMN_RIGHT = ParagraphStyle("column-right", COLUMN, alignment=TA_RIGHT)
BULLET = _style("bullet", 9, leftIndent=13, bulletIndent=1, spaceAfter=2.5)
CAUTION = _style("caution", SMALLEST, leftIndent=13, bulletIndent=1, spaceAfter=2, leading=10.4)


def beside(style: ParagraphStyle, room: float) -> ParagraphStyle:
    """The style for text that must leave `room` points free at its right."""
    return ParagraphStyle(f"{style.name}-beside", style, rightIndent=room)


def para(text: object, style: ParagraphStyle = BODY) -> Text:
    """Text as a paragraph, nothing in it taken for markup, its line breaks kept."""
    return Text(str(text), style)


def bare(text: object, style: ParagraphStyle = CELL) -> Text:
    """Text that is all there is in a cell, and no paragraph of its own."""
    return Text(str(text), style, tag=CURRENT)


def paper_title(text: str, style: ParagraphStyle = TITLE) -> Text:
    """The title of a paper, or of its part on one head."""
    return Text(text, style, tag=Tag("H1"))


def subheading(text: str, style: ParagraphStyle = STRONG, level: int = 3) -> Text:
    """A heading in its place, which the caller keeps with what follows."""
    return Text(text, style, tag=Tag(f"H{level}"))


def paragraphs(texts: Sequence[str], style: ParagraphStyle = SPACED) -> list[Flowable]:
    """Several paragraphs."""
    return [para(text, style) for text in texts]


def one_line(text: str) -> str:
    """An address of several lines on one."""
    return ", ".join(line.strip(" ,") for line in text.splitlines() if line.strip(" ,"))


def bullets(
    texts: Sequence[str], sign: str = "•", style: ParagraphStyle = BULLET
) -> list[Flowable]:
    """A list of short paragraphs, each behind a sign."""
    listed = Tag("L")
    items = [Tag("LI", listed) for text in texts if text]
    shown = zip((str(text) for text in texts if text), items, strict=True)
    return [Text(text, style, sign, Tag("LBody", item), Tag("Lbl", item)) for text, item in shown]


def heading(text: str, room: float = 30 * mm) -> list[Flowable]:
    """A section's heading, never left alone at the foot of a page.

    It moves to the next page where less than `room` points are left. What follows may be a table
    of many pages, which must start right below it.
    """
    return [CondPageBreak(room), subheading(text, HEADING, 2)]


class Rule(HRFlowable):
    """A thin line across the column."""

    def __init__(self, after: float) -> None:
        super().__init__(width="100%", thickness=0.6, color=RULE, spaceBefore=0, spaceAfter=after)

    def draw(self) -> None:
        """Draw it; reportlab calls this with the origin at the lower left."""
        with artifact(self.canv):
            super().draw()


def gap(points: float = 6) -> Spacer:
    """White space."""
    return Spacer(1, points)
