"""A code to scan."""

from __future__ import annotations

import segno
from reportlab.platypus import Flowable

from shopflow.papers.structure import figure
from shopflow.texts import gettext


class ScanCode(Flowable):
    """A QR code (ISO/IEC 18004) of a text, as one path of black runs."""

    def __init__(self, text: str, size: float) -> None:
        super().__init__()
        self.text = text
        self.matrix = segno.make(text, error="m", micro=False).matrix
        self.width = self.height = size

    def draw(self) -> None:
        """Draw it; reportlab calls this with the origin at the lower left."""
        words = gettext("Code to scan: {address}", address=self.text)
        with figure(self.canv, (self.width, self.height), words):
            self._draw()

    def _draw(self) -> None:
        # Scanners want four modules of white around it; the page's white counts.
        module = self.width / len(self.matrix)
        path = self.canv.beginPath()
        for line, row in enumerate(self.matrix):
            start = None
            for column, dark in enumerate([*row, 0]):
                if dark and start is None:
                    start = column
                elif not dark and start is not None:
                    bottom = self.height - (line + 1) * module
                    # A hair of overlap keeps white lines from showing between the rows.
                    path.rect(start * module, bottom, (column - start) * module, module * 1.02)
                    start = None
        self.canv.setFillGray(0)
        self.canv.drawPath(path, stroke=0, fill=1)


class Corner(Flowable):
    """A code at the right edge of what follows, which must leave it room: it takes up none."""

    def __init__(self, code: ScanCode, right: float) -> None:
        super().__init__()
        self.code, self.right = code, right
        self.width = self.height = 0

    def draw(self) -> None:
        """Draw it below the present line."""
        self.code.drawOn(self.canv, self.right - self.code.width, -self.code.height)
