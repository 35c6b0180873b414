"""The objects of a PDF put together into a file (ISO 32000-1, 7.5), the small ones packed.

A library that read the file back to change it took as long as a half of the drawing: here what
reportlab drew, its structure and its description are written once.
"""

from __future__ import annotations

import hashlib
import zlib
from collections.abc import Iterator

HEADER = b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n"
EFFORT = 3
"""Of packing: half the time of the usual 6, for a tenth more."""

IN_A_PACK = 200
"""Small objects packed together."""


class PdfFile:
    """Objects by their numbers; the same objects give the same bytes."""

    def __init__(self) -> None:
        self._small: dict[int, bytes] = {}
        self._streams: dict[int, bytes] = {}
        self._next = 1

    def put(self, number: int, body: bytes) -> None:
        """Take an object that has its number already."""
        self._next = max(self._next, number + 1)
        if body.endswith(b"endstream\n"):
            # ISO 19005-3, 6.1.7.1: a line ends before the word.
            self._streams[number] = body.removesuffix(b"endstream\n") + b"\nendstream\n"
        else:
            self._small[number] = body

    def reserve(self, count: int = 1) -> int:
        """The first of so many numbers in a row, for objects that refer to each other."""
        first = self._next
        self._next += count
        return first

    def add(self, body: str) -> int:
        """Take a small object; its number."""
        number = self.reserve()
        self._small[number] = body.encode("latin-1")
        return number

    def add_stream(self, entries: str, content: bytes, *, plain: bool = False) -> int:
        """Take a stream with the entries of its dictionary; its number."""
        number = self.reserve()
        self._streams[number] = _stream(entries, content, plain=plain)
        return number

    def written(self, catalog: int, info: int) -> bytes:
        """The whole file."""
        parts, at = [HEADER], len(HEADER)
        places: dict[int, tuple[int, int, int]] = {}
        for pack, numbers in self._packs():
            places |= {number: (2, pack, index) for index, number in enumerate(numbers)}
        for number, body in sorted(self._streams.items()):
            places[number] = (1, at, 0)
            parts += [b"%d 0 obj\n" % number, body, b"endobj\n"]
            at += sum(map(len, parts[-3:]))
        table = self.reserve()
        places[table] = (1, at, 0)
        identity = hashlib.sha256(b"".join(parts)).hexdigest()[:32]
        entries = (
            f"/Type/XRef/W[1 4 2]/Size {table + 1}/Root {catalog} 0 R/Info {info} 0 R"
            f"/ID[<{identity}><{identity}>]"
        )
        rows = b"".join(_row(places.get(number, (0, 0, 0))) for number in range(table + 1))
        parts += [b"%d 0 obj\n" % table, _stream(entries, rows), b"endobj\n"]
        return b"".join([*parts, b"startxref\n%d\n%%%%EOF\n" % at])

    def _packs(self) -> Iterator[tuple[int, list[int]]]:
        """Pack the small objects; the number of each pack, and those in it."""
        numbers = sorted(self._small)
        for start in range(0, len(numbers), IN_A_PACK):
            chosen = numbers[start : start + IN_A_PACK]
            bodies = [self._small[number] for number in chosen]
            index, at = [], 0
            for number, body in zip(chosen, bodies, strict=True):
                index.append(b"%d %d" % (number, at))
                at += len(body) + 1
            head = b" ".join(index) + b"\n"
            entries = f"/Type/ObjStm/N {len(chosen)}/First {len(head)}"
            yield self.add_stream(entries, head + b"\n".join(bodies)), chosen


def _row(place: tuple[int, int, int]) -> bytes:
    kind, at, index = place
    return kind.to_bytes(1, "big") + at.to_bytes(4, "big") + index.to_bytes(2, "big")


def packed(content: bytes) -> bytes:
    """A stream's content, packed."""
    return zlib.compress(content, EFFORT)


def _stream(entries: str, content: bytes, *, plain: bool = False) -> bytes:
    if not plain:
        content = packed(content)
        entries += "/Filter/FlateDecode"
    head = f"<<{entries}/Length {len(content)}>>\nstream\n".encode("latin-1")
    return b"".join([head, content, b"\nendstream\n"])


def text_string(text: str) -> str:
    """Text as a PDF holds it (ISO 32000-1, 7.9.2.2).

    >>> text_string("5 (cfm)"), text_string("°")
    ('(5 \\\\(cfm\\\\))', '<FEFF00B0>')
    """
    if text.isascii() and text.isprintable():
        escaped = text.replace("\\", "\\\\").replace("(", "\\(").replace(")", "\\)")
        return f"({escaped})"
    return f"<FEFF{text.encode('utf-16-be').hex().upper()}>"
