"""Tables: facts beside each other, and grids of figures."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, FrameBreak, TableStyle
from reportlab.platypus.tables import CellStyle

from shopflow import fonts
from shopflow.papers.style import (
    CELL,
    CELL_RIGHT,
    COLUMN,
    COLUMN_RIGHT,
    INK,
    LABEL,
    RULE,
    SOFT,
    bare,
    para,
)
from shopflow.papers.tagged_tables import Cells, Place, TaggedTable, data, layout, pairs
from shopflow.papers.text import Text
from shopflow.units import UnitSystem, pretty

PLAIN: list[Any] = [
    # Without it an empty cell would bring in Helvetica, which no paper embeds.
    ("FONT", (0, 0), (-1, -1), fonts.REGULAR, CELL.fontSize, CELL.leading),
    ("TEXTCOLOR", (0, 0), (-1, -1), INK),
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
]


MOST_OF_A_PAGE = 130 * mm
"""A row that does not fit into so much is broken; a shorter one goes to the next page whole."""


ROUNDING = 0.01
"""Points."""

DENSE = 0.6
"""Padding of rows of numbers, many on a page."""

MOST_LOOSE_ROWS = 15
TIGHT_LEADING = 10.0
"""Points from row to row of longer tables of numbers."""


@dataclass(frozen=True)
class Column:
    """A column of a grid.

    With a share it holds text and takes that part of the width left over; else it is as wide as
    `width` says, or as what it holds.
    """

    title: str
    share: float = 0.0
    width: float = 0.0
    figures: bool = False
    """True where it holds numbers, set to the right."""

    boxed: bool = False
    """True where its cells are boxes to write in."""

    close: bool = False
    """True where it stands close to the column before it, as a unit to its number."""


def headed(name: str, kind: str, units: UnitSystem) -> Column:
    """A column of numbers under a name with the reader's unit of a kind."""
    return Column(f"{name}, {pretty(units.unit(kind))}", figures=True)


def facts(rows: Sequence[tuple[str, str]], width: float, columns: int = 2) -> list[Flowable]:
    """Labels with their values in columns, long values below over the whole width.

    What has no value is left out.
    """
    filled = [(name, value) for name, value in rows if value]
    label = max((fonts.width(name, LABEL.fontSize) for name, _ in filled), default=0.0) + 9
    share = width / columns
    short = [row for row in filled if _lines(row[1], share - label - 8) <= 2]
    long = [row for row in filled if row not in short]
    height = -(-len(short) // columns)
    lines = [
        [
            short[index] if index < len(short) else ("", "")
            for index in range(line, len(short), height)
        ]
        for line in range(height)
    ]
    tables = [
        _facts([[*line, *[("", "")] * (columns - len(line))] for line in lines], share, label),
        _facts([[row] for row in long], width, label),
    ]
    return [table for table in tables if table is not None]


def _lines(text: str, room: float) -> int:
    return sum(
        max(1, -(-int(fonts.width(line, CELL.fontSize)) // int(room))) for line in text.split("\n")
    )


def _facts(
    lines: Sequence[Sequence[tuple[str, str]]], share: float, label: float
) -> Flowable | None:
    if not lines:
        return None
    cells = [
        [cell for name, value in line for cell in (_label(name), bare(value))] for line in lines
    ]
    style = cell_style(
        fontsize=LABEL.fontSize, leading=LABEL.leading, color=SOFT,
        leftPadding=0, rightPadding=8, topPadding=0.8, bottomPadding=0.8,
    )  # fmt: skip
    widths = [label, share - label] * len(lines[0])
    styles = [[style] * len(widths)] * len(cells)
    tags = pairs(_by_column(lines))
    return placed(cells, tags, colWidths=widths, hAlign="LEFT", splitInRow=1, cellStyles=styles)


def _by_column(lines: Sequence[Sequence[tuple[str, str]]]) -> list[tuple[Place, Place | None]]:
    """The cells of each label and its value, one column after the other."""
    return [
        ((row, 2 * column), (row, 2 * column + 1))
        for column in range(len(lines[0]))
        for row, line in enumerate(lines)
        if line[column][1]
    ]


def _label(name: str) -> Any:
    return bare(name, LABEL) if fonts.needs_shaping(name) else fonts.printable(name)


def placed(cells: Sequence[list[Any]], tags: Cells | None = None, **settings: Any) -> TaggedTable:
    """Things beside and under each other, which are read in that order and are no table."""
    table = TaggedTable(cells, **settings)
    table.tags = tags or layout()
    return table


class _Rows(TaggedTable):
    """Breaks between its rows; within one only where most of a page does not hold it."""

    def split(self, availWidth: float, availHeight: float) -> list[Flowable]:  # noqa: N803
        """Its parts; none where it had better begin on the next page."""
        self.splitInRow = int(availHeight > MOST_OF_A_PAGE)
        parts: list[Any] = super().split(availWidth, availHeight)
        if len(parts) == 2 and _rows_of(parts[1]) == 1 and _rows_of(parts[0]) > 2:
            # The last row does not go on alone: the row before it goes along.
            fewer = sum(parts[0]._rowHeights[:-1])
            self.splitInRow = 0
            return _apart(super().split(availWidth, fewer + ROUNDING)) or parts
        return parts


def _apart(parts: list[Flowable]) -> list[Flowable]:
    """Two parts with a new page between: the second would begin in the room that the first left."""
    return [parts[0], FrameBreak, parts[1]] if len(parts) == 2 else parts


def _rows_of(table: Any) -> int:
    """Rows below the heading."""
    return len(table._cellvalues) - int(table.repeatRows)


def grid(
    columns: Sequence[Column],
    rows: Sequence[Sequence[Any]],
    width: float,
    padding: float = 2.6,
    row_height: float = 0.0,
) -> Flowable:
    """A table whose heading repeats on each page; without any title it only places its cells.

    A cell is text or something laid out already; a row is at least `row_height` points high.
    """
    text = bare if any(column.title for column in columns) else para
    body = [
        [_cell(cell, column, text) for cell, column in zip(row, columns, strict=True)]
        for row in rows
    ]
    top = [bare(item.title, COLUMN_RIGHT if item.figures else COLUMN) for item in columns]
    tight = TIGHT_LEADING if len(rows) > MOST_LOOSE_ROWS and padding <= DENSE else 0.0
    heading, below = _column_styles(columns, 0.0 if tight else padding, tight)
    table = _Rows(
        [top, *body],
        colWidths=_widths(columns, rows, width),
        rowHeights=[None, *(_height(row, below[0], row_height) for row in body)],
        repeatRows=1,
        splitInRow=1,
        minRowHeights=[0.0, *[row_height] * len(body)],
        cellStyles=[heading, *[below] * len(body)],
    )
    table.tags = data([column.title for column in columns], rows)
    lines: list[Any] = [
        ("LINEBELOW", (0, 0), (-1, 0), 0.9, SOFT),
        ("LINEBELOW", (0, 1), (-1, -1), 0.4, RULE),
    ]
    boxes = [index for index, column in enumerate(columns) if column.boxed]
    table.setStyle(
        TableStyle([*lines, *(("BOX", (index, 1), (index, -1), 0.4, SOFT) for index in boxes)])
    )
    return table


def _height(row: Sequence[Any], style: Any, least: float) -> float | None:
    """Height of a row of single lines; None for one that is to be measured."""
    if any(not isinstance(cell, str) or "\n" in cell for cell in row):
        return None
    return float(max(least, style.leading + style.topPadding + style.bottomPadding))


def _column_styles(
    columns: Sequence[Column], padding: float, leading: float = 0.0
) -> tuple[list[CellStyle], list[CellStyle]]:
    """The style of each column's heading, and of its cells below.

    The outer columns stand flush with the text above and below.
    """
    beside = [1.1 if column.close else 4.0 for column in columns[1:]]
    heading, below = [], []
    for column, left, right in zip(columns, [0.0, *beside], [*beside, 0.0], strict=True):
        sides = {
            "leftPadding": left, "rightPadding": right,
            "topPadding": padding, "bottomPadding": padding,
        }  # fmt: skip
        heading.append(cell_style(valign="BOTTOM", **sides))
        own = sides | ({"leading": leading} if leading else {})
        below.append(cell_style(alignment="RIGHT" if column.figures else "LEFT", **own))
    return heading, below


def cell_style(**settings: Any) -> CellStyle:
    """A style for many cells: one of its own for each would make tables slow."""
    style = CellStyle("cell")
    plain = {
        "fontname": fonts.REGULAR, "fontsize": CELL.fontSize, "leading": CELL.leading,
        "color": INK, "valign": "TOP",
    }  # fmt: skip
    vars(style).update(plain | settings)
    return style


def _cell(cell: Any, column: Column, text: Callable[..., Text]) -> Any:
    # Short text is left a plain string: a paragraph each would make long tables slow.
    if isinstance(cell, Flowable | list):
        return cell
    if (column.share or column.width) and not column.figures:
        return text(cell, CELL)
    plain = fonts.printable(str(cell))
    if fonts.needs_shaping(plain):
        return text(plain, CELL_RIGHT if column.figures else CELL)
    return plain


def _widths(columns: Sequence[Column], rows: Sequence[Sequence[Any]], width: float) -> list[float]:
    """Widths of the columns; what is left over goes to those with a share, or evenly to all."""
    widths = [
        0.0 if column.share else column.width or _needed(column, [row[index] for row in rows])
        for index, column in enumerate(columns)
    ]
    spare = width - sum(widths)
    shares = [column.share for column in columns]
    if not any(shares):
        shares = [1.0] * len(columns)
    return [own + spare * share / sum(shares) for own, share in zip(widths, shares, strict=True)]


def _needed(column: Column, cells: Sequence[Any]) -> float:
    """Width of the widest cell or word of the heading, with the space beside it."""
    texts = [str(cell) for cell in cells if not isinstance(cell, Flowable | list)]
    words = column.title.split() or [""]
    heads = [fonts.width(word, COLUMN.fontSize, fonts.BOLD) for word in words]
    lines = [fonts.width(line, CELL.fontSize) for text in texts for line in text.split("\n")]
    # A word as wide as its column to the last digit would be broken by rounding.
    return max(lines + heads) + 8.001
