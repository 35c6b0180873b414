"""Writing the structure of a paper into its file, as objects added at its end.

They are put together as text: an element each as an object of a library would take longer than the
paper itself. Objects and their places are those of ISO 32000-1, 7.5.6, 12.3.3 and 14.7.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from shopflow.papers.structure import Element, Heading, Structure

CELLS = frozenset({"TD", "TH"})
"""Elements that stand though they are empty: without them a row would be too short."""


@dataclass(frozen=True)
class Numbers:
    """Numbers of the objects of a file that its structure refers to."""

    catalog: int
    pages: int
    info: int
    page: Mapping[int, int]
    """Of each page, counted from 1."""

    used: int
    """The highest there is."""


def addition(content: bytes, structure: Structure, numbers: Numbers) -> bytes:
    """The bytes that give a finished PDF its structure and bookmarks."""
    bodies = list(_bodies(structure, numbers))
    start, offsets, parts = len(content), [], []
    for number, body in bodies:
        text = f"{number} 0 obj\n{body}\nendobj\n".encode("latin-1")
        offsets.append(start)
        parts.append(text)
        start += len(text)
    (first, *rest), (catalog_at, *others_at) = [number for number, _ in bodies], offsets
    entries = "".join(f"{at:010d} 00000 n \n" for at in others_at)
    before = content[content.rindex(b"startxref") :].split()[1].decode()
    size = rest[-1] + 1
    end = (
        f"xref\n{first} 1\n{catalog_at:010d} 00000 n \n{rest[0]} {len(rest)}\n{entries}"
        f"trailer\n<</Size {size}/Root {first} 0 R/Info {numbers.info} 0 R/Prev {before}>>\n"
        f"startxref\n{start}\n%%EOF\n"
    )
    return b"".join([*parts, end.encode()])


def _bodies(structure: Structure, numbers: Numbers) -> Iterator[tuple[int, str]]:
    """Every object with its number: the catalog, then the rest in order."""
    root = numbers.used + 1
    elements = list(_numbered(structure.root, root + 1))
    outline = elements[-1].number + 1
    bookmarks = "".join(f"/Outlines {outline} 0 R" for _ in structure.headings[:1])
    suspects = "/Suspects true" if structure.is_doubtful else ""
    yield (
        numbers.catalog,
        f"<</Type/Catalog/Pages {numbers.pages} 0 R/MarkInfo<</Marked true{suspects}>>"
        f"/StructTreeRoot {root} 0 R{bookmarks}>>",
    )
    yield root, _root(structure, numbers, elements[0].number)
    for element in elements:
        parent = element.parent.number if element.parent else root
        yield element.number, _element(element, parent, numbers.page)
    if bookmarks:
        yield from _outline(structure.headings, outline, numbers.page)


def _numbered(element: Element, first: int) -> list[Element]:
    """The element and all that stand within it, in reading order, each with its number."""
    in_order: list[Element] = []
    waiting = [element] if _is_filled(element) or element.parent is None else []
    while waiting:
        following = waiting.pop()
        following.number = first + len(in_order)
        in_order.append(following)
        waiting += [kid for kid in reversed(following.kids) if isinstance(kid, Element)]
    return in_order


def _is_filled(element: Element) -> bool:
    """Tell whether there is anything in an element; what is empty within it is taken out."""
    element.kids = [kid for kid in element.kids if isinstance(kid, tuple) or _is_filled(kid)]
    return bool(element.kids) or element.role in CELLS


def _root(structure: Structure, numbers: Numbers, document: int) -> str:
    nums = "".join(
        f"{page - 1}[{' '.join(f'{mark.number} 0 R' for mark in structure.marks.get(page, ()))}]"
        for page in numbers.page
    )
    return (
        f"<</Type/StructTreeRoot/K {document} 0 R/ParentTree<</Nums[{nums}]>>"
        f"/ParentTreeNextKey {len(numbers.page)}>>"
    )


def _element(element: Element, parent: int, pages: Mapping[int, int]) -> str:
    on = next((kid[0] for kid in element.kids if isinstance(kid, tuple)), 0)
    kids = " ".join(_kid(kid, on, pages) for kid in element.kids)
    held = f"/K[{kids}]" if len(element.kids) != 1 else f"/K {kids}"
    page = f"/Pg {pages[on]} 0 R" if on else ""
    attributes = f"/A{element.attributes}" if element.attributes else ""
    words = f"/Alt{text_string(element.alternative)}" if element.alternative else ""
    words += f"/ActualText{text_string(element.actual)}" if element.actual else ""
    return f"<</Type/StructElem/S/{element.role}/P {parent} 0 R{page}{held}{attributes}{words}>>"


def _kid(kid: Element | tuple[int, int], on: int, pages: Mapping[int, int]) -> str:
    if isinstance(kid, Element):
        return f"{kid.number} 0 R"
    page, number = kid
    if page == on:
        return str(number)
    return f"<</Type/MCR/Pg {pages[page]} 0 R/MCID {number}>>"


def _outline(
    headings: list[Heading], first: int, pages: Mapping[int, int]
) -> Iterator[tuple[int, str]]:
    """The bookmarks under each other: the list itself, then one a heading."""
    parents = list(_parents(headings))
    below: dict[int, list[int]] = {}
    for place, parent in enumerate(parents):
        below.setdefault(parent, []).append(place)
    number = first + 1
    top = below[-1]
    yield (
        first,
        f"<</Type/Outlines/First {number + top[0]} 0 R/Last {number + top[-1]} 0 R"
        f"/Count {len(top)}>>",
    )
    for place, heading in enumerate(headings):
        beside, own = below[parents[place]], below.get(place, [])
        at = beside.index(place)
        links = [f"/Parent {number + parents[place]} 0 R"]
        links += [f"/Prev {number + beside[at - 1]} 0 R"] if at else []
        links += [f"/Next {number + beside[at + 1]} 0 R"] if at + 1 < len(beside) else []
        if own:
            links.append(f"/First {number + own[0]} 0 R/Last {number + own[-1]} 0 R")
            links.append(f"/Count -{len(own)}")
        where = f"/Dest[{pages[heading.page]} 0 R/XYZ null {heading.top:.2f} null]"
        yield number + place, f"<</Title{text_string(heading.text)}{''.join(links)}{where}>>"


def _parents(headings: list[Heading]) -> Iterator[int]:
    """The place of the heading that each stands under; -1 where there is none."""
    open_at: list[int] = []
    for place, heading in enumerate(headings):
        while open_at and headings[open_at[-1]].level >= heading.level:
            open_at.pop()
        yield open_at[-1] if open_at else -1
        open_at.append(place)


def text_string(text: str) -> str:
    """Text as a PDF holds it (ISO 32000-1, 7.9.2.2).

    >>> text_string("5 (cfm)"), text_string("°")
    ('(5 \\\\(cfm\\\\))', '<FEFF00B0>')
    """
    if text.isascii() and text.isprintable():
        escaped = text.replace("\\", "\\\\").replace("(", "\\(").replace(")", "\\)")
        return f"({escaped})"
    return f"<FEFF{text.encode('utf-16-be').hex().upper()}>"
