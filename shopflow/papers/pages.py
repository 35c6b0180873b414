"""Breaking a paper's story into pages, none of which is left with next to nothing on it."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from reportlab.lib.units import mm
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, PageTemplate

LEAST_ON_A_PAGE = 42 * mm
"""A page that a text or table runs on to holds at least so much of it."""

TRIES = 6


@dataclass(frozen=True)
class Room:
    """The room for text on the first and on later pages of one size, in points."""

    size: tuple[float, float]
    margin: float
    head: float
    later_head: float
    foot: float

    def height(self, page: int) -> float:
        """Height of the room on a page, counted from 1."""
        return self.size[1] - self.foot - (self.head if page == 1 else self.later_head)


@dataclass(frozen=True)
class _Filled:
    """A page's room as it was used."""

    used: float
    ends_a_part: bool
    """True where the next page was asked for, as for another head."""


def paged(story: Sequence[Flowable], room: Room, title: str, canvas: Callable[..., Any]) -> bytes:
    """The story as a PDF. A page with too little on it is given more of the page before it."""
    less: dict[int, float] = {}
    for _ in range(TRIES):
        document = _Document(room, title, less)
        document.build(list(story), canvasmaker=canvas)
        document.forget_postponed()
        short = _short_page(document.filled)
        if short is None or short - 1 in less:
            break
        before = document.filled[short - 2]
        lacking = LEAST_ON_A_PAGE - document.filled[short - 1].used
        less[short - 1] = room.height(short - 1) - before.used + lacking
    return document.buffer.getvalue()


def _short_page(filled: Sequence[_Filled]) -> int | None:
    """Number of the first page with too little on it, where the page before can give some."""
    for page in range(2, len(filled) + 1):
        last_of_its_part = page == len(filled) or filled[page - 1].ends_a_part
        if (
            last_of_its_part
            and filled[page - 1].used < LEAST_ON_A_PAGE
            and not filled[page - 2].ends_a_part
            and filled[page - 2].used > 2 * LEAST_ON_A_PAGE
        ):
            return page
    return None


class _Document(BaseDocTemplate):
    """Pages of one frame each, whose heights differ; notes how far each was filled."""

    def __init__(self, room: Room, title: str, less: dict[int, float]) -> None:
        self.buffer = io.BytesIO()
        super().__init__(self.buffer, pagesize=room.size, title=title)
        self._room, self._less = room, less
        self.filled: list[_Filled] = []
        self._edits: list[tuple[Any, ...]] = []
        self._multiBuildEdits = self._edits.append
        """Notes of reportlab on flowables, undone so that they can be laid out again."""

        self._ends_a_part = False
        width = room.size[0] - 2 * room.margin
        self._only: Any = Frame(
            room.margin, room.foot, width, room.height(1),
            leftPadding=0, rightPadding=0, topPadding=0, bottomPadding=0,
        )  # fmt: skip
        self.addPageTemplates(PageTemplate(frames=[self._only]))

    def forget_postponed(self) -> None:
        """Take from the flowables that they did not fit a page of this layout."""
        for undo, *arguments in reversed(self._edits):
            undo(*arguments)

    def handle_pageBegin(self) -> None:  # noqa: N802
        """Begin a page with its own height."""
        page = self.page + 1
        less = self._less.get(page, 0.0)
        self._only.y1 = self._room.foot + less
        self._only.height = self._room.height(page) - less
        super().handle_pageBegin()

    def handle_pageBreak(self, slow: Any = None) -> None:  # noqa: N802
        """End a page that the story itself ends."""
        self._ends_a_part = True
        super().handle_pageBreak(slow)

    def handle_pageEnd(self) -> None:  # noqa: N802
        """Note how far the page was filled."""
        self.filled.append(_Filled(self._only._y2 - self._only._y, self._ends_a_part))
        self._ends_a_part = False
        super().handle_pageEnd()
