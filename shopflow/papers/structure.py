"""The structure of a paper for readers that cannot see it: what each mark on a page belongs to.

While a page is drawn, every mark is either a piece of an element (a paragraph, a cell, a figure) or
an artifact, as lines and grounds are (ISO 32000-1, 14.7 and 14.8). `tree` writes the elements.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, NamedTuple

Piece = tuple[int, int]
"""A mark: its page, counted from 1, and its number on it."""

PAGINATION = "/Artifact <</Type/Pagination>> BDC"
"""Begins what is on every page: heads, feet, repeated headings."""

LAYOUT = "/Artifact BMC"
"""Begins what is drawn for the eye alone: lines, grounds, empty cells."""


class Element:
    """A part of the paper: its role, its attributes as a PDF has them, and what it holds."""

    __slots__ = ("alternative", "attributes", "kids", "number", "parent", "role")

    def __init__(
        self, role: str, parent: Element | None, attributes: str = "", alternative: str = ""
    ) -> None:
        self.role, self.parent = role, parent
        self.attributes, self.alternative = attributes, alternative
        self.kids: list[Element | Piece] = []
        self.number = 0
        """Number of its object in the file, once it is written."""


class Heading(NamedTuple):
    """A heading, for the bookmarks."""

    level: int
    text: str
    page: int
    top: float


class Structure:
    """The elements of one paper in reading order, and the marks on its pages."""

    def __init__(self) -> None:
        self.root = Element("Document", None)
        self.current = self.root
        """The element that what is drawn next belongs to."""

        self.marks: dict[int, list[Element]] = {}
        """The element of each mark, by page."""

        self.headings: list[Heading] = []
        self._depth = 0
        self._pending: tuple[list[str], int, Element | None, int] | None = None

    @property
    def is_inside(self) -> bool:
        """True within a mark, in which no other can begin."""
        return self._depth > 0

    def begin(self, canvas: Any, element: Element) -> None:
        """Begin a mark of an element; within another mark it is a part of that."""
        page = canvas.getPageNumber()
        number = len(self.marks.setdefault(page, []))
        self._begin(canvas, f"/{element.role} <</MCID {number}>> BDC", element, page)

    def begin_artifact(self, canvas: Any, operator: str = LAYOUT) -> None:
        """Begin what belongs to no element."""
        self._begin(canvas, operator, None, 0)

    def _begin(self, canvas: Any, operator: str, element: Element | None, page: int) -> None:
        self._depth += 1
        if self._depth == 1:
            self._pending = (canvas._code, len(canvas._code), element, page)
            canvas._code.append(operator)

    def end(self) -> None:
        """End the mark begun last; one in which nothing was drawn is taken back."""
        self._depth -= 1
        if self._depth or self._pending is None:
            return
        code, start, element, page = self._pending
        if len(code) == start + 1:
            code.pop()
            return
        code.append("EMC")
        if element is not None:
            marks = self.marks[page]
            element.kids.append((page, len(marks)))
            marks.append(element)

    def write(self, canvas: Any, element: Element, operators: str) -> None:
        """Write a whole mark of an element."""
        if self._depth:
            canvas._code.append(operators)
            return
        page = canvas._pageNumber
        marks = self.marks.setdefault(page, [])
        number = len(marks)
        canvas._code.append(f"/{element.role} <</MCID {number}>> BDC\n{operators}\nEMC")
        element.kids.append((page, number))
        marks.append(element)

    @contextmanager
    def within(self, element: Element) -> Iterator[None]:
        """Let what is drawn meanwhile belong to an element."""
        before, self.current = self.current, element
        yield
        self.current = before


class Tag:
    """The element that a piece of a story becomes in each paper it is drawn in.

    Parts of what was split over pages share one. Without a parent it belongs to what is current.
    """

    __slots__ = ("_element", "_structure", "attributes", "parent", "role")

    def __init__(self, role: str, parent: Tag | None = None, attributes: str = "") -> None:
        self.role, self.parent, self.attributes = role, parent, attributes
        self._structure: Structure | None = None
        self._element: Element | None = None

    def of(self, structure: Structure) -> Element:
        """Its element in a paper."""
        if self._element is None or self._structure is not structure:
            parent = structure.current if self.parent is None else self.parent.of(structure)
            self._element = Element(self.role, parent, self.attributes)
            self._structure = structure
            parent.kids.append(self._element)
        return self._element

    @property
    def level(self) -> int:
        """Level of a heading; 0 for anything else."""
        return int(self.role[1]) if len(self.role) == 2 and self.role[0] == "H" else 0


class _Current(Tag):
    """Whatever is being drawn, as the cell around a text."""

    __slots__ = ()

    def of(self, structure: Structure) -> Element:
        """The element that is current."""
        return structure.current


CURRENT = _Current("")


def structure_of(canvas: Any) -> Structure:
    """The structure of the paper that a canvas draws."""
    try:
        structure: Structure = canvas.structure
    except AttributeError:
        structure = canvas.structure = Structure()
    return structure


@contextmanager
def artifact(canvas: Any, operator: str = LAYOUT) -> Iterator[None]:
    """Draw what belongs to no element."""
    structure = structure_of(canvas)
    structure.begin_artifact(canvas, operator)
    yield
    structure.end()


@contextmanager
def figure(canvas: Any, size: tuple[float, float], alternative: str) -> Iterator[None]:
    """Draw a picture at the origin that takes up a size, with what it says in words."""
    structure = structure_of(canvas)
    if structure.is_inside:
        yield
        return
    left, bottom = canvas.absolutePosition(0, 0)
    box = " ".join(f"{at:.2f}" for at in (left, bottom, left + size[0], bottom + size[1]))
    attributes = f"<</O/Layout/Placement/Block/BBox[{box}]>>"
    parent = structure.current
    element = Element("Figure", parent, attributes, alternative)
    parent.kids.append(element)
    structure.begin(canvas, element)
    yield
    structure.end()
