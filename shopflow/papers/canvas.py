"""The canvas of every paper: it gives the file the structure of what was drawn."""

from __future__ import annotations

from typing import Any

from reportlab.pdfgen.canvas import Canvas

from shopflow import fonts
from shopflow.papers.structure import Structure
from shopflow.papers.tree import Numbers, addition


class TaggedCanvas(Canvas):
    """A canvas that collects the structure of what is drawn, and writes it when it is saved.

    Its file is a buffer.
    """

    def __init__(self, *arguments: Any, **settings: Any) -> None:
        own = {"invariant": 1, "initialFontName": fonts.REGULAR}
        super().__init__(*arguments, **(settings | own))
        self.structure = Structure()

    def save(self) -> None:
        """Write the file."""
        document: Any = self._doc  # type: ignore[attr-defined]
        catalog, pages, info = (
            _number(document, item) for item in (document.Catalog, document.Pages, document.info)
        )
        super().save()
        numbered = document.idToObjectNumberAndVersion
        page = {place: numbered[f"Page{place}"][0] for place in range(1, self.getPageNumber())}
        numbers = Numbers(catalog, pages, info, page, len(document.numberToId))
        self.structure.is_doubtful = fonts.has_boxes(document)
        buffer: Any = self._filename  # type: ignore[attr-defined]
        buffer.write(addition(buffer.getvalue(), self.structure, numbers))


def _number(document: Any, item: Any) -> int:
    """The number of an object of a file, taken now where it has none yet."""
    number: int = document.idToObjectNumberAndVersion[document.Reference(item).name][0]
    return number
