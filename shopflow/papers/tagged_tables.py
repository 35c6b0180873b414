"""Tables whose cells are parts of the paper's structure, over all the pages they run on to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from reportlab.platypus import Flowable, Table
from reportlab.platypus.tables import TableRenderCB

from shopflow.papers.structure import LAYOUT, PAGINATION, Tag, structure_of

COLUMN, ROW = "<</O/Table/Scope/Column>>", "<</O/Table/Scope/Row>>"
Place = tuple[int, int]
"""Row and column of a cell in the whole table, counted from 0."""


class TaggedTable(Table):
    """A table whose parts on several pages hold cells of the same elements.

    Set `_renderCB` to a `Cells`. Without one it is for layout only.
    """

    rows: list[int | None] | None = None
    """Number of each row in the whole table; None for a heading repeated. None for a whole one."""

    def split(self, availWidth: float, availHeight: float) -> list[Flowable]:  # noqa: N803
        """Its parts, each with the numbers of its rows."""
        parts: list[Any] = super().split(availWidth, availHeight)
        if len(parts) == 2:
            first, second = (len(part._cellvalues) for part in parts)
            rows = self.row_numbers()
            repeated = int(self.repeatRows)
            # A row cut in two counts in both parts.
            cut = first + second - repeated - len(rows)
            parts[0].rows = rows[:first]
            parts[1].rows = [*[None] * repeated, *rows[first - cut :]]
        return parts

    def row_numbers(self) -> list[int | None]:
        """The number of each row in the whole table."""
        whole: Any = self
        return self.rows if self.rows is not None else list(range(len(whole._cellvalues)))


class Cells(TableRenderCB):
    """Marks a table's cells as they are drawn.

    `tags` holds the element of each cell; another is of none of its own: paragraphs in it are on
    their own, plain text is an artifact.
    """

    def __init__(self, tags: Mapping[Place, Tag], order: Sequence[Tag] = ()) -> None:
        self._tags = tags
        self._order = order
        """Elements in the order they are read in, where they are drawn in another."""

        self._row: int | None = None
        self._before: Any = None

    def startTable(self, table: Any) -> None:  # noqa: N802
        """Bring the elements into the order they are read in."""
        self._structure = structure_of(table.canv)
        self._rows = table.row_numbers()
        for tag in self._order:
            tag.of(self._structure)

    def startBG(self, table: Any) -> None:  # noqa: N802
        """Begin the grounds."""
        self._structure.begin_artifact(table.canv)

    def endBG(self, table: Any) -> None:  # noqa: N802
        """End the grounds."""
        self._structure.end()

    def startLines(self, table: Any) -> None:  # noqa: N802
        """Begin the lines, after the cells."""
        self.startBG(table)

    def endLines(self, table: Any) -> None:  # noqa: N802
        """End the lines."""
        self.endBG(table)

    def startRow(self, table: Any, row: int) -> None:  # noqa: N802
        """Note the row that is drawn."""
        self._row = self._rows[row]

    def endRow(self, table: Any) -> None:  # noqa: N802
        """Nothing ends with a row."""

    def startCell(  # noqa: N802
        self, table: Any, row: int, column: int, value: Any, *rest: Any
    ) -> None:
        """Begin a cell: of paragraphs it is what they belong to, of plain text a mark."""
        structure = self._structure
        tag = None if self._row is None else self._tags.get((self._row, column))
        is_text = not isinstance(value, Flowable | list | tuple)
        self._is_marked = self._row is None or is_text
        self._before = structure.current
        if self._is_marked and tag is None:
            structure.begin_artifact(table.canv, PAGINATION if self._row is None else LAYOUT)
        elif tag is not None and is_text:
            structure.begin(table.canv, tag.of(structure))
        elif tag is not None:
            structure.current = tag.of(structure)

    def endCell(self, table: Any) -> None:  # noqa: N802
        """End a cell."""
        self._structure.current = self._before
        if self._is_marked:
            self._structure.end()

    def endTable(self, table: Any) -> None:  # noqa: N802
        """Nothing ends with a table."""


def layout() -> Cells:
    """Marks of a table that only places things beside and under each other."""
    return Cells({})


def data(columns: Sequence[str], rows: Sequence[Sequence[Any]]) -> Cells:
    """Marks of a table of data under a heading; untitled columns throughout make it a layout."""
    if not any(columns):
        return layout()
    table = Tag("Table")
    top = Tag("TR", Tag("THead", table))
    tags = {
        (0, at): Tag("TH", top, COLUMN) if title else Tag("TD", top)
        for at, title in enumerate(columns)
    }
    body = Tag("TBody", table)
    for number, row in enumerate(rows, start=1):
        tags |= _of_row(number, row, Tag("TR", body))
    return Cells(tags)


def _of_row(number: int, row: Sequence[Any], tag: Tag) -> dict[Place, Tag]:
    """The first cell names the row, where there is anything in it."""
    cells = {(number, at): Tag("TD", tag) for at in range(len(row))}
    if row[0] != "":
        cells[number, 0] = Tag("TH", tag, ROW)
    return cells


def pairs(places: Sequence[tuple[Place, Place | None]]) -> Cells:
    """Marks of names beside or under their values, as a list in the order given.

    A name without a value, as of a line to sign on, stands for itself.
    """
    listed = Tag("L")
    tags: dict[Place, Tag] = {}
    order = []
    for name, value in places:
        item = Tag("LI", listed)
        tags[name] = Tag("LBody" if value is None else "Lbl", item)
        order += [item, tags[name]]
        if value is not None:
            tags[value] = Tag("LBody", item)
            order.append(tags[value])
    return Cells(tags, order)
