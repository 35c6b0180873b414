"""Labels of heads and of bins: what must be known of a casting, or a part, on a shelf."""

from __future__ import annotations

import io
from collections.abc import Sequence

from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

from shopflow import fonts
from shopflow.documents.labels import LABELS, Label
from shopflow.documents.tags import BinLabel, BinLabelSheet, Tag, TagSheet
from shopflow.papers.canvas import TaggedCanvas
from shopflow.papers.description import Description
from shopflow.papers.qr_code import ScanCode
from shopflow.papers.style import INK, para
from shopflow.texts import gettext

PAD = 2.2 * mm
MOST = 46.0
"""Points of the largest letters."""

LEAST_SCALE = 0.2
STEP = 0.94


Line = tuple[str, float, str]
"""Text of a line, its size of the largest line's, and its face."""


def tags(sheet: TagSheet) -> bytes:
    """The labels as PDF. Raises ValueError where the sheet has no such label to start at."""
    numbers = ", ".join(dict.fromkeys(tag.job for tag in sheet.tags))
    title = gettext("Tags {numbers}", numbers=numbers)
    return _printed(title, sheet, [(_lines(tag), tag.url) for tag in sheet.tags])


def bin_labels(sheet: BinLabelSheet) -> bytes:
    """The labels of bins as PDF. Raises ValueError as `tags`."""
    labels = [(_bin_lines(label), label.url) for label in sheet.labels]
    return _printed(gettext("Bin labels"), sheet, labels)


def _printed(
    title: str, sheet: TagSheet | BinLabelSheet, labels: Sequence[tuple[list[Line], str]]
) -> bytes:
    fonts.register()
    label = LABELS[sheet.label]
    if not 1 <= sheet.start <= label.on_a_page:
        raise ValueError(
            gettext("this sheet has places 1 to {on_a_page}", on_a_page=label.on_a_page)
        )
    out = io.BytesIO()
    description = Description(title, sheet.shop, sheet.printed_at)
    canvas = TaggedCanvas(out, description, pagesize=label.page)
    for index, (lines, url) in enumerate(labels, start=sheet.start - 1):
        if index % label.on_a_page == 0 and index >= sheet.start:
            canvas.showPage()
        _draw(canvas, label, label.corner(index), lines, url)
    canvas.save()
    return out.getvalue()


def _draw(
    canvas: Canvas, label: Label, corner: tuple[float, float], lines: list[Line], url: str
) -> None:
    """One label: words at the left and the code at the right, or the code below on a tall one."""
    left, bottom = corner[0] + PAD, corner[1] + PAD
    width, height = label.width - 2 * PAD, label.height - 2 * PAD
    tall = height > width
    code = (min(width, height * 0.42) if tall else min(height, width * 0.32)) if url else 0.0
    # Four modules of white belong around a code of 33 (ISO/IEC 18004).
    quiet = 0.13 * code
    if url:
        at = left + (width - code) / 2 if tall else left + width - code
        ScanCode(url, code).drawOn(canvas, at, bottom + (0 if tall else (height - code) / 2))
    room = (width, height - code - quiet) if tall else (width - code - quiet, height)
    _words(canvas, (left, bottom + height), room, _sized(lines, room[0]))


def _sized(lines: list[Line], width: float) -> list[Line]:
    """The lines with their sizes in points: the first as wide as it may be on one line."""
    largest = lines[0][0]
    size = min(MOST, width / fonts.width(largest, 1.0, fonts.BOLD))
    return [(text, size * scale, face) for text, scale, face in lines if text]


def _lines(tag: Tag) -> list[Line]:
    """Lines of a head's label, the tag largest."""
    casting = gettext("Casting {casting}", casting=tag.casting) if tag.casting else ""
    return [
        (tag.tag, 1.0, fonts.BOLD),
        (tag.customer, 0.66, fonts.BOLD),
        (tag.engine_type, 0.52, fonts.REGULAR),
        (casting, 0.52, fonts.REGULAR),
        (gettext("Job {job}", job=tag.job), 0.52, fonts.REGULAR),
        (gettext("Promised {promised}", promised=tag.promised), 0.52, fonts.REGULAR),
    ]


def _bin_lines(label: BinLabel) -> list[Line]:
    """Lines of a bin's label, the bin largest; the part's number where it has no bin."""
    return [
        (label.bin or label.number, 1.0, fonts.BOLD),
        (label.number if label.bin else "", 0.66, fonts.BOLD),
        (label.name, 0.52, fonts.REGULAR),
    ]


def _words(
    canvas: Canvas,
    corner: tuple[float, float],
    room: tuple[float, float],
    lines: Sequence[Line],
) -> None:
    """Set the lines from a top left corner, wrapped, and all smaller until they fit."""
    scale = 1.0
    while True:
        laid = [_set(text, size * scale, face) for text, size, face in lines]
        heights = [item.wrap(*room)[1] for item in laid]
        if sum(heights) <= room[1] or scale < LEAST_SCALE:
            break
        scale *= STEP
    top = corner[1]
    for item, height in zip(laid, heights, strict=True):
        top -= height
        item.drawOn(canvas, corner[0], top)


def _set(text: str, size: float, face: str) -> Flowable:
    style = ParagraphStyle("tag", fontName=face, fontSize=size, leading=size * 1.16, textColor=INK)
    return para(text, style)
