"""A drawing as vectors on a PDF page."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Any

from reportlab.lib.colors import HexColor
from reportlab.platypus import Flowable

from shopflow import fonts
from shopflow.charts.marks import Area, Block, Drawing, Point, Sign, Stroke, Words

WHITE = HexColor("#ffffff")
_colour = cache(HexColor)


class ChartFlowable(Flowable):
    """A drawing that takes its place in a column of a paper."""

    def __init__(self, drawing: Drawing) -> None:
        super().__init__()
        self.drawing = drawing
        self.width, self.height = drawing.width, drawing.height

    def draw(self) -> None:
        """Draw every mark; reportlab calls this with the origin at the lower left."""
        fonts.register()
        canvas = self.canv
        canvas.saveState()
        canvas.setLineJoin(1)
        for mark in self.drawing.marks:
            if isinstance(mark, Stroke):
                self._stroke(canvas, mark)
            elif isinstance(mark, Words):
                self._words(canvas, mark)
            elif isinstance(mark, Area):
                self._area(canvas, mark)
            elif isinstance(mark, Block):
                self._block(canvas, mark)
            else:
                self._sign(canvas, mark)
        canvas.restoreState()

    def _stroke(self, canvas: Any, mark: Stroke) -> None:
        canvas.setStrokeColor(_colour(mark.colour))
        canvas.setLineWidth(mark.width)
        if mark.dash:
            canvas.setDash(list(mark.dash))
        canvas.drawPath(self._path(canvas, mark.points))
        if mark.dash:
            canvas.setDash([])

    def _area(self, canvas: Any, mark: Area) -> None:
        canvas.setFillColor(_colour(mark.colour))
        path = self._path(canvas, mark.corners)
        path.close()
        canvas.drawPath(path, stroke=0, fill=1)

    def _block(self, canvas: Any, mark: Block) -> None:
        left, top, right, bottom = mark.box
        canvas.setStrokeColor(_colour(mark.colour))
        canvas.setFillColor(_colour(mark.colour) if mark.filled else WHITE)
        canvas.setLineWidth(1.2)
        canvas.rect(left, self.height - bottom, right - left, bottom - top, fill=1)

    def _words(self, canvas: Any, mark: Words) -> None:
        canvas.setFillColor(_colour(mark.colour))
        x, y = mark.at
        face = fonts.BOLD if mark.bold else fonts.REGULAR
        at = (x, self.height - y)
        fonts.draw(canvas, at, fonts.printable(mark.text), face, mark.size, mark.anchor)

    def _sign(self, canvas: Any, mark: Sign) -> None:
        canvas.setStrokeColor(_colour(mark.colour))
        canvas.setFillColor(_colour(mark.colour) if mark.filled else WHITE)
        canvas.setLineWidth(mark.size * 0.4)
        if mark.shape == "circle":
            x, y = mark.at
            canvas.circle(x, self.height - y, mark.size, fill=1)
            return
        path = self._path(canvas, mark.outline)
        path.close()
        canvas.drawPath(path, fill=1)

    def _path(self, canvas: Any, points: Sequence[Point]) -> Any:
        path = canvas.beginPath()
        (x, y), *rest = points
        path.moveTo(x, self.height - y)
        for x, y in rest:
            path.lineTo(x, self.height - y)
        return path
