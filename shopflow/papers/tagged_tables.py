"""Tables whose cells are parts of the paper's structure, over all the pages they run on to."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from reportlab.platypus import Flowable, Table
from reportlab.platypus.tables import CellStyle

from shopflow import fonts
from shopflow.papers.structure import (
    CURRENT,
    LAYOUT,
    PAGINATION,
    Element,
    Structure,
    Tag,
    artifact,
    structure_of,
)
from shopflow.papers.text import Text

COLUMN, ROW = "<</O/Table/Scope/Column>>", "<</O/Table/Scope/Row>>"
Place = tuple[int, int]
"""Row and column of a cell in the whole table, counted from 0."""


class Cells:
    """The elements of a table's cells. Here none: a table that only places things."""

    def begin(self, structure: Structure) -> None:
        """Begin to draw a table, or a part of it, in a paper."""

    def element(self, row: int, column: int) -> Element | None:
        """The element of a cell, in the paper begun last; None for one without.

        What is in that is of no element of its own: paragraphs are on their own, plain text is an
        artifact.
        """
        return None


class _Data(Cells):
    """A table of data under a heading; the first cell of a row names it, where it is not empty."""

    def __init__(self, titles: Sequence[str], rows: Sequence[Sequence[Any]]) -> None:
        self._titles = titles
        self._named = [row[0] != "" for row in rows]
        self._table = Tag("Table")
        self._parts = (Tag("THead", self._table), Tag("TBody", self._table))
        self._structure: Structure | None = None
        self._rows: dict[int, list[Element]] = {}

    def begin(self, structure: Structure) -> None:
        """Begin anew in another paper, go on in the same."""
        if structure is not self._structure:
            self._structure, self._rows = structure, {}

    def element(self, row: int, column: int) -> Element | None:
        """The element of a cell, with those of its whole row the first time."""
        if row not in self._rows and self._structure is not None:
            part = self._parts[min(row, 1)].of(self._structure)
            line = Element("TR", part)
            part.kids.append(line)
            line.kids += (cells := self._cells(row, line))
            self._rows[row] = cells
        return self._rows[row][column]

    def _cells(self, row: int, line: Element) -> list[Element]:
        if row == 0:
            return [
                Element("TH", line, COLUMN) if title else Element("TD", line)
                for title in self._titles
            ]
        first = Element("TH", line, ROW) if self._named[row - 1] else Element("TD", line)
        return [first, *(Element("TD", line) for _ in self._titles[1:])]


class _Pairs(Cells):
    """Names with their values, as a list in an order of its own."""

    def __init__(self, places: Sequence[tuple[Place, Place | None]]) -> None:
        listed = Tag("L")
        self._tags: dict[Place, Tag] = {}
        self._order: list[Tag] = []
        for name, value in places:
            item = Tag("LI", listed)
            self._tags[name] = Tag("LBody" if value is None else "Lbl", item)
            self._order += [item, self._tags[name]]
            if value is not None:
                self._tags[value] = Tag("LBody", item)
                self._order.append(self._tags[value])

    def begin(self, structure: Structure) -> None:
        """Bring the items into the order they are read in, which they are not drawn in."""
        self._structure = structure
        for tag in self._order:
            tag.of(structure)

    def element(self, row: int, column: int) -> Element | None:
        """The label or the body of an item."""
        tag = self._tags.get((row, column))
        return None if tag is None else tag.of(self._structure)


def layout() -> Cells:
    """The cells of a table that only places things beside and under each other."""
    return Cells()


def data(columns: Sequence[str], rows: Sequence[Sequence[Any]]) -> Cells:
    """The cells of a table of data; one untitled throughout is for layout."""
    return _Data(columns, rows) if any(columns) else layout()


def pairs(places: Sequence[tuple[Place, Place | None]]) -> Cells:
    """The cells of names beside or under their values, in the order given.

    A name without a value, as of a line to sign on, stands for itself.
    """
    return _Pairs(places)


def _bare(value: Any) -> Text | None:
    """The text that is all there is in a cell, if any; reportlab puts what is laid out in lists."""
    if isinstance(value, list | tuple) and len(value) == 1:
        (value,) = value
    return value if isinstance(value, Text) and value.tag is CURRENT else None


class TaggedTable(Table):
    """A table whose parts on several pages hold cells of the same elements.

    Set `tags` before it is drawn. No cell spans others.
    """

    tags: Cells = layout()
    rows: list[int | None] | None = None
    """Number of each row in the whole table; None for a heading repeated. None for a whole one."""

    def split(self, availWidth: float, availHeight: float) -> list[Flowable]:  # noqa: N803
        """Its parts, each with the numbers of its rows."""
        parts: list[Any] = super().split(availWidth, availHeight)
        for part in parts:
            part.tags = self.tags
        if len(parts) == 2:
            first, second = (len(part._cellvalues) for part in parts)
            rows = self._row_numbers()
            repeated = int(self.repeatRows)
            # A row cut in two counts in both parts.
            cut = first + second - repeated - len(rows)
            parts[0].rows = rows[:first]
            parts[1].rows = [*[None] * repeated, *rows[first - cut :]]
        return parts

    def _row_numbers(self) -> list[int | None]:
        whole: Any = self
        return self.rows if self.rows is not None else list(range(len(whole._cellvalues)))

    def draw(self) -> None:
        """Draw grounds, cells and lines; reportlab calls this with the origin at the lower left."""
        table: Any = self
        canvas = table.canv
        canvas.saveState()
        table._curweight = table._curcolor = table._curcellstyle = None
        table._makeRoundedCornersClip()
        with artifact(canvas):
            table._drawBkgrnd()
        self._draw_cells(table, structure_of(canvas))
        with artifact(canvas):
            table._drawLines()
        canvas.restoreState()

    def _draw_cells(self, table: Any, structure: Structure) -> None:
        self.tags.begin(structure)
        rows = zip(
            self._row_numbers(), table._cellvalues, table._cellStyles, table._rowpositions[1:],
            table._rowHeights, strict=True,
        )  # fmt: skip
        for row, values, styles, bottom, height in rows:
            cells = zip(values, styles, table._colpositions[:-1], table._colWidths, strict=True)
            for column, (value, style, left, width) in enumerate(cells):
                element = None if row is None else self.tags.element(row, column)
                place = ((left, bottom), (width, height))
                if row is None or (element is None and isinstance(value, str)):
                    structure.begin_artifact(table.canv, PAGINATION if row is None else LAYOUT)
                    table._drawCell(value, style, *place)
                    structure.end()
                elif isinstance(value, str) and element is not None:
                    self._draw_text(structure, element, value, style, place)
                elif (text := _bare(value)) is not None and element is not None:
                    self._draw_bare(structure, element, text, style, place)
                else:
                    self._draw_within(structure, element, value, style, place)

    def _draw_bare(
        self, structure: Structure, element: Element, value: Text, style: Any,
        place: tuple[Place, Place],
    ) -> None:  # fmt: skip
        """Draw a text that is all there is in a cell, by the shortest way where there is one."""
        table: Any = self
        (left, bottom), (width, height) = place
        _, own = value.wrap(width - style.leftPadding - style.rightPadding, height)
        y = bottom + style.bottomPadding
        if style.valign == "TOP":
            y = bottom + height - style.topPadding - own
        operators = None
        if style.valign in ("TOP", "BOTTOM") and own and not fonts.needs_shaping(value.text):
            operators = value.plain(table.canv, (left + style.leftPadding, y))
        if operators is None:
            self._draw_within(structure, element, value, style, place)
            return
        table.canv.setFillColor(value.style.textColor)
        table._curcellstyle = None
        structure.write(table.canv, element, operators)

    def _draw_within(
        self, structure: Structure, element: Element | None, value: Any, style: CellStyle,
        place: tuple[Place, Place],
    ) -> None:  # fmt: skip
        """Draw paragraphs, which belong to the cell's element where it has one."""
        table: Any = self
        before = structure.current
        structure.current = element or before
        table._drawCell(value, style, *place)
        structure.current = before

    def _draw_text(
        self, structure: Structure, element: Element, value: str, style: Any,
        place: tuple[Place, Place],
    ) -> None:  # fmt: skip
        """Draw plain text, by the shortest way where it is a line at the top of a cell."""
        table: Any = self
        operators = None
        if "\n" not in value and style.valign == "TOP":
            (left, bottom), (width, height) = place
            x = left + style.leftPadding
            if style.alignment == "RIGHT":
                own = fonts.width(value, style.fontsize, style.fontname)
                x = left + width - style.rightPadding - own
            y = bottom + height - style.topPadding - style.fontsize
            operators = fonts.plain(
                table.canv, (x, y), [value], style.fontname, (style.fontsize, style.leading)
            )
        if operators is None:
            structure.begin(table.canv, element)
            table._drawCell(value, style, *place)
            structure.end()
            return
        self._set_colour(style)
        structure.write(table.canv, element, operators)

    def _set_colour(self, style: Any) -> None:
        """Set the colour of a cell's text, where the cell before had another."""
        table: Any = self
        if table._curcellstyle is not style:
            before, table._curcellstyle = table._curcellstyle, style
            if before is None or before.color != style.color:
                table.canv.setFillColor(style.color)
            table.canv.setFont(style.fontname, style.fontsize, style.leading)
