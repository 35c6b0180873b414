"""The labels a shop can buy: one to a page from a roll, or many on a sheet."""

from __future__ import annotations

from dataclasses import dataclass

from shopflow.texts import lazy

INCH = 72.0
"""In points, as every length here."""

MM = INCH / 25.4
A4 = (210.0 * MM, 297.0 * MM)
LETTER = (8.5 * INCH, 11.0 * INCH)


@dataclass(frozen=True)
class Label:
    """A size of label and how it lies on its page; points, measured from the top left."""

    name: str
    page: tuple[float, float]
    width: float
    height: float
    columns: int = 1
    rows: int = 1
    left: float = 0.0
    top: float = 0.0
    across: float = 0.0
    """From one label's left edge to the next one's; labels stand below each other without gap."""

    @property
    def on_a_page(self) -> int:
        """Number of labels on a page."""
        return self.columns * self.rows

    def corner(self, index: int) -> tuple[float, float]:
        """Lower left corner of the label at an index, counted from 0 along the rows, points."""
        row, column = divmod(index % self.on_a_page, self.columns)
        across = self.left + column * self.across
        return across, self.page[1] - self.top - (row + 1) * self.height


def _roll(name: str, width: float, height: float) -> Label:
    return Label(name, (width, height), width, height)


LABELS = {
    "62x29": _roll(lazy("Roll, 62 × 29 mm"), 62 * MM, 29 * MM),
    "62x100": _roll(lazy("Roll, 62 × 100 mm"), 62 * MM, 100 * MM),
    "4x6": _roll(lazy("Roll, 4 × 6 in"), 4 * INCH, 6 * INCH),
    "a4-24": Label(
        lazy("A4 sheet of 24, 70 × 37 mm"), A4, 70 * MM, 37 * MM, 3, 8, 0.0,
        (A4[1] - 8 * 37 * MM) / 2, 70 * MM,
    ),
    "letter-30": Label(
        lazy("Letter sheet of 30, 2⅝ × 1 in"), LETTER, 2.625 * INCH, 1 * INCH, 3, 10,
        0.1875 * INCH, 0.5 * INCH, 2.75 * INCH,
    ),
}  # fmt: skip
"""Label sizes by the code kept in the shop's settings."""
