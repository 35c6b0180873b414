"""Pictures on paper, each with words that carry what it shows."""

from __future__ import annotations

import io
from collections.abc import Iterator
from typing import Any

from reportlab.platypus import Image

from shopflow.charts.marks import Block, Drawing, Sign
from shopflow.charts.paper import ChartFlowable
from shopflow.papers.structure import figure
from shopflow.texts import gettext

MOST_READ = 120
"""Values of a chart that are read out one by one; of more, each curve's least and greatest."""


class ChartFigure(ChartFlowable):
    """A chart that reads its values out."""

    def draw(self) -> None:
        """Draw it; reportlab calls this with the origin at the lower left."""
        with figure(self.canv, (self.width, self.height), in_words(self.drawing)):
            super().draw()


class Picture(Image):
    """A photo with its caption for those who cannot see it."""

    def __init__(self, content: bytes, size: tuple[float, float], words: str) -> None:
        super().__init__(io.BytesIO(content), *size, hAlign="LEFT")
        self._words, self._size = words, size

    def draw(self) -> None:
        """Draw it; reportlab calls this with the origin at the lower left."""
        canvas: Any = self.canv
        with figure(canvas, self._size, self._words):
            super().draw()


def in_words(drawing: Drawing) -> str:
    """A drawing's title, what it shows, and every value in it where they are few enough."""
    values = list(_values(drawing))
    listed = "; ".join(values) if len(values) <= MOST_READ else ""
    parts = [f"{drawing.title}." if drawing.title else "", drawing.description]
    parts += [gettext("Values: {values}.", values=listed)] if listed else []
    return " ".join(part for part in parts if part)


def _values(drawing: Drawing) -> Iterator[str]:
    """Every value that is marked, a curve's name once before its own."""
    curve = ""
    for mark in drawing.marks:
        if isinstance(mark, Sign) and mark.reading is not None:
            words = mark.reading.words
            yield words if mark.reading.series != curve else words.removeprefix(f"{curve}: ")
            curve = mark.reading.series
        elif isinstance(mark, Block) and mark.words:
            yield mark.words
