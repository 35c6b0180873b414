"""A paper as a reader for the blind has it: its structure read back, and what is wrong with that.

Content streams are read by pikepdf; the code shares nothing with what writes them.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import pikepdf

DRAWING = frozenset({
    "S", "s", "f", "F", "f*", "B", "B*", "b", "b*", "sh", "Do", "Tj", "TJ", "'", '"', "BI",
})  # fmt: skip
"""Operators that leave a mark (ISO 32000-1, table 51), but for clipping."""


@dataclass
class Node:
    """An element with its text and what stands in it, in reading order."""

    role: str
    alternative: str = ""
    scope: str = ""
    box: tuple[float, ...] = ()
    kids: list[Node | str] = field(default_factory=list)

    @property
    def text(self) -> str:
        """Text that is read out."""
        if self.alternative:
            return f"{self.alternative} "
        parts = [kid if isinstance(kid, str) else kid.text for kid in self.kids]
        return f"{''.join(parts)} "

    @property
    def drawn(self) -> str:
        """All that is drawn of it, in pictures too."""
        return " ".join(kid if isinstance(kid, str) else kid.drawn for kid in self.kids)

    def all(self, *roles: str) -> Iterator[Node]:
        """Every element of some roles, this one too, in reading order."""
        if self.role in roles or not roles:
            yield self
        for kid in self.kids:
            if isinstance(kid, Node):
                yield from kid.all(*roles)


@dataclass
class Paper:
    """A PDF's structure, and the faults met while it was read."""

    document: Node
    faults: list[str]
    bookmarks: list[str]

    @property
    def text(self) -> str:
        """All that is read out, its white space evened."""
        return " ".join(self.document.text.split())


def read(content: bytes) -> Paper:
    """Read a PDF's structure."""
    faults: list[str] = []
    with pikepdf.open(io.BytesIO(content)) as pdf:
        marks = {
            page.obj.objgen: _marks(page, number, faults)
            for number, page in enumerate(pdf.pages, start=1)
        }
        root = pdf.Root.StructTreeRoot
        seen: dict[tuple[Any, int], Any] = {}
        document = _node(root.K, marks, seen, None, faults)
        faults += _unbound(pdf, marks, seen)
        with pdf.open_outline() as outline:
            bookmarks = [title for item in outline.root for title in _titles(item)]
        return Paper(document, faults, bookmarks)


def _titles(item: pikepdf.OutlineItem) -> Iterator[str]:
    yield item.title
    for kid in item.children:
        yield from _titles(kid)


def _node(
    element: Any,
    marks: dict[Any, dict[int, str]],
    seen: dict[Any, Any],
    page: Any,
    faults: list[str],
) -> Node:
    """An element, and all in it."""
    attributes = element.get("/A", pikepdf.Dictionary())
    node = Node(
        str(element.S).lstrip("/"),
        str(element.get("/Alt", "")),
        str(attributes.get("/Scope", "")).lstrip("/"),
        tuple(float(part) for part in attributes.get("/BBox", ())),
    )
    page = element.get("/Pg", page)
    kids = element.get("/K", pikepdf.Array())
    for kid in kids if isinstance(kids, pikepdf.Array) else [kids]:
        if isinstance(kid, int):
            node.kids.append(_piece(element, page, kid, marks, seen, faults))
        elif "/MCID" in kid:
            node.kids.append(_piece(element, kid.Pg, int(kid.MCID), marks, seen, faults))
        elif "/Obj" not in kid:
            if kid.P.objgen != element.objgen:
                faults.append(f"{kid.S} does not know its parent {element.S}")
            node.kids.append(_node(kid, marks, seen, page, faults))
    return node


def _piece(
    element: Any, page: Any, number: int, marks: dict[Any, dict[int, str]], seen: dict[Any, Any],
    faults: list[str],
) -> str:  # fmt: skip
    """The text of a mark, which no two elements share."""
    key = (page.objgen, number)
    if key in seen:
        faults.append(f"mark {number} belongs to two elements")
    seen[key] = element
    if number not in marks[page.objgen]:
        faults.append(f"mark {number} is not on the page")
    return marks[page.objgen].get(number, "")


def _unbound(pdf: pikepdf.Pdf, marks: dict[Any, dict[int, str]], seen: dict[Any, Any]) -> list[str]:
    """Marks of no element, and places of the parent tree that name another."""
    faults = []
    nums = list(pdf.Root.StructTreeRoot.ParentTree.Nums)
    by_key = {int(key): value for key, value in zip(nums[::2], nums[1::2], strict=True)}
    for page in pdf.pages:
        parents = by_key[int(page.obj.StructParents)]
        if len(parents) != len(marks[page.obj.objgen]):
            faults.append(f"{len(parents)} parents of {len(marks[page.obj.objgen])} marks")
        for number in marks[page.obj.objgen]:
            element = seen.get((page.obj.objgen, number))
            if element is None:
                faults.append(f"mark {number} belongs to no element")
            elif number >= len(parents) or parents[number].objgen != element.objgen:
                faults.append(f"mark {number} has another parent in the tree of parents")
    return faults


def _marks(page: pikepdf.Page, index: int, faults: list[str]) -> dict[int, str]:
    """The text of each mark on a page."""
    fonts = {name: _letters(font) for name, font in page.obj.Resources.Font.items()}
    texts: dict[int, str] = {}
    stack: list[tuple[str, int | None]] = []
    spoken: str | None = None
    letters: dict[int, str] = {}
    for instruction in pikepdf.parse_content_stream(page):
        operands: Any = instruction.operands
        name = str(instruction.operator)
        if name in ("BDC", "BMC"):
            properties = operands[1] if name == "BDC" else {}
            number = int(properties["/MCID"]) if "/MCID" in properties else None
            if number is not None:
                if any(role != "/Span" for role, _ in stack):
                    faults.append(f"page {index}: mark {number} lies within another")
                if number in texts:
                    faults.append(f"page {index}: mark {number} is there twice")
                texts[number] = ""
            if "/ActualText" in properties:
                spoken = str(properties["/ActualText"])
                _add(texts, stack, spoken)
            stack.append((str(operands[0]), number))
        elif name == "EMC":
            role, _ = stack.pop()
            spoken = None if role == "/Span" else spoken
        elif name == "Tf":
            letters = fonts[str(operands[0])]
        elif name in DRAWING:
            shown = _shown(operands, letters)
            if not stack and (shown.strip() or name not in ("Tj", "TJ", "'", '"')):
                faults.append(f"page {index}: {name} {shown!r} is in no mark and no artifact")
            if spoken is None:
                _add(texts, stack, shown)
    if stack:
        faults.append(f"page {index}: a mark is not ended")
    return texts


def _add(texts: dict[int, str], stack: list[tuple[str, int | None]], text: str) -> None:
    number = next((number for _, number in reversed(stack) if number is not None), None)
    if number is not None:
        texts[number] += text


def _shown(operands: Any, letters: dict[int, str]) -> str:
    parts = [part for operand in operands for part in
             (operand if isinstance(operand, pikepdf.Array) else [operand])]  # fmt: skip
    strings = [bytes(part) for part in parts if isinstance(part, pikepdf.String)]
    return "".join(letters.get(code, "�") for string in strings for code in string)


def _letters(font: Any) -> dict[int, str]:
    """The text of each code of a typeface."""
    mapping = font.ToUnicode.read_bytes().decode("latin-1")
    pairs = re.findall(r"<([0-9A-F]{2})> <([0-9A-F]{4,})>", mapping)
    return {int(code, 16): bytes.fromhex(text).decode("utf-16-be") for code, text in pairs}


def faults(paper: Paper) -> list[str]:
    """Everything that is wrong with a paper's structure."""
    return [*paper.faults, *_of_tables(paper), *_of_figures(paper), *_of_headings(paper),
            *_of_lists(paper)]  # fmt: skip


def _of_tables(paper: Paper) -> Iterator[str]:
    for table in paper.document.all("Table"):
        rows = [list(row.all("TH", "TD")) for row in table.all("TR")]
        if len({len(row) for row in rows}) != 1:
            yield f"a table has rows of {sorted({len(row) for row in rows})} cells"
        if any(cell.scope not in ("Column", "Row") for cell in table.all("TH")):
            yield "a heading of a table has no scope"
        if not any(cell.role == "TH" for cell in rows[0]):
            yield "a table has no headings"


def _of_figures(paper: Paper) -> Iterator[str]:
    for picture in paper.document.all("Figure"):
        if not picture.alternative.strip():
            yield "a figure says nothing"
        left, bottom, right, top = picture.box or (0.0,) * 4
        if not (right - left > 5 and top - bottom > 5):
            yield f"a figure takes up {picture.box}"


def _of_headings(paper: Paper) -> Iterator[str]:
    before = 0
    for heading in paper.document.all("H1", "H2", "H3", "H4"):
        level = int(heading.role[1])
        if level > before + 1:
            yield f"{heading.role} {heading.text!r} follows a heading of level {before}"
        if not heading.text.strip():
            yield "a heading is empty"
        before = level


def _of_lists(paper: Paper) -> Iterator[str]:
    for item in paper.document.all("LI"):
        roles = [kid.role for kid in item.kids if isinstance(kid, Node)]
        if roles not in (["LBody"], ["Lbl", "LBody"]):
            yield f"an item of a list is made of {roles}"
    for paragraph in paper.document.all("P"):
        if not paragraph.text.strip():
            yield "a paragraph is empty"
