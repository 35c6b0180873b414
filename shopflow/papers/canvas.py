"""The canvas of every paper: what it draws is written with its structure and description."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from reportlab.pdfbase.pdfdoc import PDFPage, PDFStream
from reportlab.pdfbase.pdfdoc import format as written_object
from reportlab.pdfgen.canvas import Canvas

from shopflow import fonts
from shopflow.papers.description import Description, write_description
from shopflow.papers.pdf_file import PdfFile, packed
from shopflow.papers.structure import Structure
from shopflow.papers.tree import write_bookmarks, write_structure

TO_LETTERS = "toUnicodeCMap:"
"""Beginning of the name by which reportlab keeps a typeface's map to letters."""

MOST_PAIRS = 100
"""Of a block of such a map (ISO 32000-1, 9.10.3)."""

_PAIR = re.compile("<([0-9A-F]+)> <([0-9A-F]+)>\n?")


class _Packing:
    """The way reportlab packs a stream, with the effort of all others in the file."""

    pdfname = "FlateDecode"

    @staticmethod
    def encode(content: str | bytes) -> bytes:
        """Pack a stream's content."""
        return packed(content if isinstance(content, bytes) else content.encode())


class TaggedCanvas(Canvas):
    """A canvas that collects the structure of what is drawn. Its file is a buffer."""

    def __init__(self, buffer: Any, description: Description, **settings: Any) -> None:
        own = {"invariant": 1, "initialFontName": fonts.REGULAR}
        super().__init__(buffer, **(settings | own))
        self.structure = Structure()
        self._description = description
        self._buffer = buffer

    def save(self) -> None:
        """Write the file."""
        if self._code:  # type: ignore[attr-defined]
            self.showPage()
        self._buffer.write(self._file(self._doc))  # type: ignore[attr-defined]

    def _file(self, document: Any) -> bytes:
        file = PdfFile()
        pages: dict[int, int] = {}
        for number, item, body in _drawn(document):
            if isinstance(item, PDFPage):
                pages[len(pages) + 1] = number
                body = _bound(body, len(pages) - 1)
            file.put(number, body)
        # Letters that read as nothing are against both standards.
        follows = not fonts.has_boxes(document)
        entries, info = write_description(file, self._description, follows=follows)
        entries += f"/StructTreeRoot {write_structure(file, self.structure, pages)} 0 R"
        if self.structure.headings:
            number = write_bookmarks(file, self.structure.headings, pages)
            entries += f"/Outlines {number} 0 R"
        catalog = file.add(
            f"<</Type/Catalog/Pages {_number(document, document.Pages)} 0 R"
            f"/MarkInfo<</Marked true>>{entries}>>"
        )
        return file.written(catalog, info)


def _drawn(document: Any) -> Iterator[tuple[int, Any, bytes]]:
    """Every object that reportlab made of what was drawn, with its number and as it is written.

    Writing one may make others.
    """
    for font in document.delayedFonts:
        font.addObjects(document)
    _number(document, document.Pages)
    number = 0
    while (number := number + 1) in document.numberToId:
        name = document.numberToId[number]
        item = document.idToObject[name]
        if name.startswith(TO_LETTERS):
            item.content = _letters(item.content)
        if isinstance(item, PDFStream) and item.filters:
            item.filters = [_Packing]
        yield number, item, written_object(item, document, toplevel=1)


def _number(document: Any, item: Any) -> int:
    """The number of an object of a document, taken now where it has none yet."""
    number: int = document.idToObjectNumberAndVersion[document.Reference(item).name][0]
    return number


def _bound(page: bytes, key: int) -> bytes:
    """A page that knows its place in the structure, and has no show of its own."""
    whole = page.rstrip().removesuffix(b">>")
    return re.sub(rb"/Trans <<\s*>>", b"", whole) + b"/StructParents %d/Tabs/S>>" % key


def _letters(mapping: str) -> str:
    """A typeface's map to letters without codes that read as nothing, those beyond the first plane
    as pairs (ISO 32000-1, 9.10.3)."""
    head, rest = re.split(r"\d+ beginbfchar\n", mapping, maxsplit=1)
    pairs, end = rest.split("endbfchar\n")
    lines = [
        f"<{code}> <{chr(letter).encode('utf-16-be').hex().upper()}>\n"
        for code, letter in ((pair[0], int(pair[1], 16)) for pair in _PAIR.findall(pairs))
        if letter
    ]
    blocks = [lines[start : start + MOST_PAIRS] for start in range(0, len(lines), MOST_PAIRS)]
    written = "".join(f"{len(part)} beginbfchar\n{''.join(part)}endbfchar\n" for part in blocks)
    return re.sub("<00> <..>", "<00> <FF>", head) + written + end
