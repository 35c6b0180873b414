"""Tags for heads: labels with what must be known of a casting on a shelf."""

from __future__ import annotations

import io
from collections.abc import Sequence

from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

from shopflow import fonts
from shopflow.documents.labels import LABELS, Label
from shopflow.documents.tags import Tag, TagSheet
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


def tags(sheet: TagSheet) -> bytes:
    """The labels as PDF. Raises ValueError where the sheet has no such label to start at."""
    fonts.register()
    label = LABELS[sheet.label]
    if not 1 <= sheet.start <= label.on_a_page:
        raise ValueError(
            gettext("this sheet has places 1 to {on_a_page}", on_a_page=label.on_a_page)
        )
    out = io.BytesIO()
    numbers = ", ".join(dict.fromkeys(tag.job for tag in sheet.tags))
    title = gettext("Tags {numbers}", numbers=numbers)
    description = Description(title, sheet.shop, sheet.printed_at)
    canvas = TaggedCanvas(out, description, pagesize=label.page)
    for index, tag in enumerate(sheet.tags, start=sheet.start - 1):
        if index % label.on_a_page == 0 and index >= sheet.start:
            canvas.showPage()
        _draw(canvas, label, label.corner(index), tag)
    canvas.save()
    return out.getvalue()


def _draw(canvas: Canvas, label: Label, corner: tuple[float, float], tag: Tag) -> None:
    """One label: words at the left and the code at the right, or the code below on a tall one."""
    left, bottom = corner[0] + PAD, corner[1] + PAD
    width, height = label.width - 2 * PAD, label.height - 2 * PAD
    tall = height > width
    code = (min(width, height * 0.42) if tall else min(height, width * 0.32)) if tag.url else 0.0
    # Four modules of white belong around a code of 33 (ISO/IEC 18004).
    quiet = 0.13 * code
    if tag.url:
        at = left + (width - code) / 2 if tall else left + width - code
        ScanCode(tag.url, code).drawOn(canvas, at, bottom + (0 if tall else (height - code) / 2))
    room = (width, height - code - quiet) if tall else (width - code - quiet, height)
    _words(canvas, (left, bottom + height), room, _lines(tag, room[0]))


def _lines(tag: Tag, width: float) -> list[tuple[str, float, str]]:
    """Text, size and face of each line: the tag largest, as wide as it may be on one line."""
    size = min(MOST, width / fonts.width(tag.tag, 1.0, fonts.BOLD))
    lines = (
        (tag.tag, 1.0, fonts.BOLD),
        (tag.customer, 0.66, fonts.BOLD),
        (tag.engine_type, 0.52, fonts.REGULAR),
        (
            gettext("Casting {casting}", casting=tag.casting) if tag.casting else "",
            0.52,
            fonts.REGULAR,
        ),
        (gettext("Job {job}", job=tag.job), 0.52, fonts.REGULAR),
        (gettext("Promised {promised}", promised=tag.promised), 0.52, fonts.REGULAR),
    )
    return [(text, size * scale, face) for text, scale, face in lines if text]


def _words(
    canvas: Canvas,
    corner: tuple[float, float],
    room: tuple[float, float],
    lines: Sequence[tuple[str, float, str]],
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
