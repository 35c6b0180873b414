"""The frame every page of a paper has."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import Any

from reportlab import rl_config
from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, PageBreak

from shopflow import fonts
from shopflow.documents import Display, Letterhead
from shopflow.papers.canvas import TaggedCanvas
from shopflow.papers.description import Attachment, Description
from shopflow.papers.pages import Room, paged
from shopflow.papers.structure import PAGINATION, Structure, Tag, artifact
from shopflow.papers.style import INK, RULE, SOFT, one_line, para
from shopflow.texts import gettext

# Plain binary streams: a quarter smaller than text ones, and faster to write.
rl_config.useA85 = 0

SIZES = {"A4": A4, "Letter": LETTER}
MARGIN = 17 * mm
HEAD = 29 * mm
LATER_HEAD = 17 * mm
"""Height of the letterhead on the first page, and of the line over each later one."""

FOOT = 17 * mm
FRAME_TYPE = 8.5
LOGO = (42 * mm, 17 * mm)
"""Room for the shop's logo, wide and high."""


@dataclass(frozen=True)
class Sheet:
    """The frame every page of one paper has."""

    shop: Letterhead
    display: Display
    kind: str
    """As "Flow certificate"."""

    number: str
    """Printed on every page, as is the kind."""

    made_at: datetime
    subject: str = ""
    """Subject of the document, for its own description."""

    keywords: tuple[str, ...] = ()
    mark: str = ""
    """Words across every page of what must not pass for the paper itself."""

    @property
    def width(self) -> float:
        """Width between the margins, in points."""
        return float(SIZES[self.display.paper_size][0] - 2 * MARGIN)

    def build_by_head(self, stories: Iterable[Sequence[Flowable]]) -> bytes:
        """The paper of a job's heads as PDF, each head from a page of its own."""
        story: list[Flowable] = []
        for of_head in stories:
            story += [*([PageBreak()] if story else []), *of_head]
        return self.build(story or [para(gettext("This job has no heads yet."))])

    def build(self, story: Sequence[Flowable], attachments: Iterable[Attachment] = ()) -> bytes:
        """The paper as PDF; the same story gives the same bytes."""
        fonts.register()
        room = Room(SIZES[self.display.paper_size], MARGIN, HEAD, LATER_HEAD, FOOT)
        description = Description(
            f"{self.kind} {self.number}",
            self.shop.name,
            self.made_at,
            self.subject or self.kind,
            ", ".join(self.keywords),
            self.display.language,
            tuple(attachments),
        )
        return paged(story, room, self.kind, partial(_CountingCanvas, self, description))

    def decorate(self, canvas: TaggedCanvas, page: int, pages: int) -> None:
        """Number, and page x of y, with the lines of the frame."""
        with artifact(canvas, PAGINATION):
            self._frame(canvas, page, pages)

    def _frame(self, canvas: Canvas, page: int, pages: int) -> None:
        width, height = SIZES[self.display.paper_size]
        right = width - MARGIN
        if self.mark:
            self._across(canvas, width / 2, height / 2)
        canvas.setFillColor(HexColor(self.shop.accent))
        canvas.rect(0, height - 2 * mm, width, 2 * mm, stroke=0, fill=1)
        below = height - HEAD + 3.5 * mm if page == 1 else self._later_head(canvas)
        canvas.setStrokeColor(HexColor(self.shop.second))
        canvas.setLineWidth(0.6)
        canvas.line(MARGIN, below, right, below)
        canvas.line(MARGIN, FOOT - 4 * mm, right, FOOT - 4 * mm)
        name = fonts.fitted(f"{self.kind} {self.number}", FRAME_TYPE, self.width * 0.8)
        _text(canvas, MARGIN, 9 * mm, name, FRAME_TYPE)
        counted = gettext("Page {page} of {pages}", page=page, pages=pages)
        _text(canvas, right, 9 * mm, counted, FRAME_TYPE, to_left=True)

    def first_head(self, canvas: TaggedCanvas) -> None:
        """Draw the letterhead, which is read before all else."""
        width, height = SIZES[self.display.paper_size]
        right, top = width - MARGIN, height - 14 * mm
        with artifact(canvas):
            left = MARGIN + self._logo(canvas, height - 4.5 * mm)
        with _read_first(canvas.structure):
            self._letterhead(canvas, left, top)
            number = fonts.fitted(self.number, 11, self.width * 0.32, fonts.BOLD)
            _line(canvas, right, top, number, 11, fonts.BOLD, to_left=True)
            _line(canvas, right, top - 11.5, self.kind, FRAME_TYPE, to_left=True)

    def _later_head(self, canvas: Canvas) -> float:
        """Draw a line with the shop's name and the number; the height of the rule below it."""
        width, height = SIZES[self.display.paper_size]
        line = height - 9.5 * mm
        shop = fonts.fitted(self.shop.name, FRAME_TYPE, self.width * 0.6)
        number = fonts.fitted(self.number, FRAME_TYPE, self.width * 0.35, fonts.BOLD)
        _text(canvas, MARGIN, line, shop, FRAME_TYPE)
        _text(canvas, width - MARGIN, line, number, FRAME_TYPE, fonts.BOLD, to_left=True)
        return line - 2.5 * mm

    def _logo(self, canvas: Canvas, top: float) -> float:
        """Draw the shop's logo; the width it takes up, with the space after it."""
        if not self.shop.logo:
            return 0.0
        picture = ImageReader(io.BytesIO(self.shop.logo))
        wide, high = picture.getSize()
        scale = min(LOGO[0] / wide, LOGO[1] / high)
        bottom = top - (LOGO[1] + high * scale) / 2
        canvas.drawImage(picture, MARGIN, bottom, wide * scale, high * scale, mask="auto")
        return float(wide * scale + 4 * mm)

    def _letterhead(self, canvas: TaggedCanvas, left: float, top: float) -> None:
        most = MARGIN + self.width * 0.66 - left
        name = fonts.fitted(self.shop.name, 12, most, fonts.BOLD)
        _line(canvas, left, top, name, 12, fonts.BOLD)
        reach = "   ".join(text for text in (self.shop.phone, self.shop.email) if text)
        lines = [line for line in (one_line(self.shop.address), reach) if line]
        for number, line in enumerate(lines):
            fitted = fonts.fitted(line, FRAME_TYPE, most)
            _line(canvas, left, top - 11.5 - 10.4 * number, fitted, FRAME_TYPE)

    def _across(self, canvas: Canvas, x: float, y: float) -> None:
        canvas.saveState()
        canvas.translate(x, y)
        canvas.rotate(52)
        canvas.setFillColor(RULE, alpha=0.45)
        fonts.draw(canvas, (0, 0), fonts.printable(self.mark), fonts.BOLD, 54, "middle")
        canvas.restoreState()


@contextmanager
def _read_first(structure: Structure) -> Iterator[None]:
    """Put what is drawn meanwhile before all else in the order it is read in."""
    element = Tag("Div").of(structure)
    structure.root.kids.insert(0, structure.root.kids.pop())
    with structure.within(element):
        yield


def _line(canvas: TaggedCanvas, x: float, y: float, text: str, *face: Any, **side: Any) -> None:
    """A line of the letterhead, which is a paragraph."""
    structure = canvas.structure
    structure.begin(canvas, Tag("P").of(structure))
    _text(canvas, x, y, text, *face, **side)
    structure.end()


def _text(
    canvas: Canvas,
    x: float,
    y: float,
    text: str,
    size: float,
    font: str = fonts.REGULAR,
    *,
    to_left: bool = False,
) -> None:
    """A line of a page's frame: names dark, the rest soft."""
    canvas.setFillColor(INK if font == fonts.BOLD else SOFT)
    fonts.draw(canvas, (x, y), fonts.printable(text), font, size, "end" if to_left else "start")


class _CountingCanvas(TaggedCanvas):
    """A canvas that knows, on each page, how many pages there are."""

    def __init__(
        self, sheet: Sheet, description: Description, buffer: Any, **settings: Any
    ) -> None:
        super().__init__(buffer, description, **settings)
        self._sheet = sheet
        self._pages: list[dict[str, Any]] = []

    def showPage(self) -> None:  # noqa: N802
        """Keep the page until the number of pages is known."""
        self._pages.append(dict(self.__dict__))
        self._startPage()  # type: ignore[attr-defined]

    def save(self) -> None:
        """Decorate and write the pages kept."""
        for page, state in enumerate(self._pages, start=1):
            self.__dict__.update(state)
            if page == 1:
                self._draw_beneath(self._sheet.first_head)
            self._sheet.decorate(self, page, len(self._pages))
            super().showPage()
        super().save()

    def _draw_beneath(self, draw: Callable[[TaggedCanvas], None]) -> None:
        """Draw something before all that is on the page already."""
        page: list[str] = self._code  # type: ignore[has-type]
        self._code = []
        self.saveState()
        draw(self)
        self.restoreState()
        self._code += page
