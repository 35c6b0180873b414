"""A page of a paper read back: where its words and lines stand, and what is wrong with that."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import pymupdf

GAP = 2.0
"""Points between two letters from which they stand apart: more than any kerning."""

LEAST = 0.4
"""Points that two boxes may share before they count as meeting: rounding, and kerning."""


@dataclass(frozen=True)
class Box:
    """A run of text and the room its letters take up, in points from the page's top left."""

    text: str
    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: Box) -> bool:
        """True where two boxes overlap."""
        wide = min(self.right, other.right) - max(self.left, other.left)
        high = min(self.bottom, other.bottom) - max(self.top, other.top)
        return wide > LEAST and high > LEAST


@lru_cache(maxsize=4)
def text_boxes(page: pymupdf.Page) -> list[Box]:
    """Every run of text on a page, from the top.

    Heights are those of the letters themselves, from descender to capital, since the font's own
    box is taller than the lines are apart.
    """
    boxes = [
        _box(run, span["size"])
        for block in page.get_text("rawdict", flags=pymupdf.TEXTFLAGS_TEXT)["blocks"]
        for line in block["lines"]
        for span in line["spans"]
        for run in _runs(_seen(span["chars"]))
    ]
    return sorted((box for box in boxes if box.text.strip()), key=lambda box: box.top)


def _seen(letters: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """A line without the space that ends it, which parts it from the next one."""
    return letters[:-1] if letters and letters[-1]["c"] == " " else letters


def _runs(letters: list[dict[str, Any]]) -> Iterator[list[dict[str, Any]]]:
    """Letters that stand side by side.

    Where a line is read from right to left in part, what a PDF holds in one piece may have
    another piece standing in its gap.
    """
    run: list[dict[str, Any]] = []
    for letter in letters:
        if run and letter["bbox"][0] - run[-1]["bbox"][2] > GAP:
            yield run
            run = []
        run.append(letter)
    if run:
        yield run


def _box(run: list[dict[str, Any]], size: float) -> Box:
    return Box(
        "".join(letter["c"] for letter in run),
        min(letter["bbox"][0] for letter in run),
        run[0]["origin"][1] - 0.66 * size,
        max(letter["bbox"][2] for letter in run),
        run[0]["origin"][1] + 0.2 * size,
    )


def overlaps(page: pymupdf.Page) -> list[tuple[str, str]]:
    """Runs of text that lie on each other."""
    boxes = text_boxes(page)
    rows = []
    for index, box in enumerate(boxes):
        for other in boxes[index + 1 :]:
            if other.top > box.bottom:
                break
            if box.meets(other):
                rows.append((box.text, other.text))
    return rows


def strays(page: pymupdf.Page, margin: float) -> list[str]:
    """Runs of text that leave the room between the side margins, or the page."""
    return [
        box.text
        for box in text_boxes(page)
        if box.left < margin - LEAST
        or box.right > page.rect.width - margin + LEAST
        or box.top < 0
        or box.bottom > page.rect.height
    ]


def crossed(page: pymupdf.Page) -> list[str]:
    """Runs of text that an upright line goes through, as where a cell is too narrow."""
    lines = list(_uprights(page))
    return [
        box.text
        for box in text_boxes(page)
        if any(
            box.left + LEAST < x < box.right - LEAST and top < box.bottom and bottom > box.top
            for x, top, bottom in lines
        )
    ]


def covered(page: pymupdf.Page) -> list[str]:
    """Runs of text on a black shape, as on a code to scan."""
    shapes = [
        Box("", *drawing["rect"])
        for drawing in _drawings(page)
        if drawing["fill"] == (0.0, 0.0, 0.0) and drawing["rect"].width > 20
    ]
    return [box.text for box in text_boxes(page) if any(box.meets(shape) for shape in shapes)]


def outside(page: pymupdf.Page) -> list[pymupdf.Rect]:
    """Drawings that leave the page."""
    return [
        drawing["rect"]
        for drawing in _drawings(page)
        if drawing["rect"].x0 < -LEAST
        or drawing["rect"].y0 < -LEAST
        or drawing["rect"].x1 > page.rect.width + LEAST
        or drawing["rect"].y1 > page.rect.height + LEAST
    ]


def ink(page: pymupdf.Page) -> float:
    """The part of a page that is not white, as rendered."""
    pixels = page.get_pixmap(dpi=40, colorspace=pymupdf.csGRAY).samples
    return float(sum(value < 230 for value in pixels) / len(pixels))


def _uprights(page: pymupdf.Page) -> Iterator[tuple[float, float, float]]:
    """Every upright line: where it stands, its upper and its lower end."""
    for drawing in _drawings(page):
        for item in drawing["items"]:
            if item[0] == "l" and abs(item[1].x - item[2].x) < 0.01:
                yield item[1].x, min(item[1].y, item[2].y), max(item[1].y, item[2].y)
            elif item[0] == "re" and "s" in drawing["type"]:
                yield item[1].x0, item[1].y0, item[1].y1
                yield item[1].x1, item[1].y0, item[1].y1


@lru_cache(maxsize=4)
def _drawings(page: pymupdf.Page) -> list[dict[str, Any]]:
    return list(page.get_drawings())
