"""Writing the structure of a paper, and its bookmarks, as objects of its file.

They are put together as text: an element each as an object of a library would take longer than the
paper itself (ISO 32000-1, 12.3.3 and 14.7).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from shopflow.papers.pdf_file import PdfFile, text_string
from shopflow.papers.structure import Element, Heading, Structure

CELLS = frozenset({"TD", "TH"})
"""Elements that stand though they are empty: without them a row would be too short."""


def write_structure(file: PdfFile, structure: Structure, pages: Mapping[int, int]) -> int:
    """Put the elements into a file whose pages have these numbers; the number of their root."""
    elements = list(_numbered(structure.root))
    root = file.reserve(1 + len(elements))
    for number, element in enumerate(elements, start=root + 1):
        element.number = number
    file.put(root, _root(structure, pages, root + 1).encode())
    for element in elements:
        parent = element.parent.number if element.parent else root
        file.put(element.number, _element(element, parent, pages).encode())
    return root


def write_bookmarks(file: PdfFile, headings: list[Heading], pages: Mapping[int, int]) -> int:
    """Put a bookmark for each heading into a file; the number of their list."""
    first = file.reserve(1 + len(headings))
    for number, body in _outline(headings, first, pages):
        file.put(number, body.encode())
    return first


def _numbered(element: Element) -> Iterator[Element]:
    """The element and all that stand within it, in reading order."""
    _is_filled(element)
    waiting = [element]
    while waiting:
        following = waiting.pop()
        yield following
        waiting += [kid for kid in reversed(following.kids) if isinstance(kid, Element)]


def _is_filled(element: Element) -> bool:
    """Tell whether there is anything in an element; what is empty within it is taken out."""
    element.kids = [kid for kid in element.kids if isinstance(kid, tuple) or _is_filled(kid)]
    return bool(element.kids) or element.role in CELLS


def _root(structure: Structure, pages: Mapping[int, int], document: int) -> str:
    nums = "".join(
        f"{page - 1}[{' '.join(f'{mark.number} 0 R' for mark in structure.marks.get(page, ()))}]"
        for page in pages
    )
    return (
        f"<</Type/StructTreeRoot/K {document} 0 R/ParentTree<</Nums[{nums}]>>"
        f"/ParentTreeNextKey {len(pages)}>>"
    )


def _element(element: Element, parent: int, pages: Mapping[int, int]) -> str:
    attributes = f"/A{element.attributes}" if element.attributes else ""
    head = f"<</S/{element.role}/P {parent} 0 R{attributes}"
    if len(element.kids) == 1 and not element.alternative:
        # Most are a cell or a paragraph on one page.
        (kid,) = element.kids
        if isinstance(kid, tuple):
            return f"{head}/Pg {pages[kid[0]]} 0 R/K {kid[1]}>>"
    on = next((kid[0] for kid in element.kids if isinstance(kid, tuple)), 0)
    kids = " ".join(_kid(kid, on, pages) for kid in element.kids)
    page = f"/Pg {pages[on]} 0 R" if on else ""
    words = f"/Alt{text_string(element.alternative)}" if element.alternative else ""
    return f"{head}{page}/K[{kids}]{words}>>"


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
