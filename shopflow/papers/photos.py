"""Pictures of a head, in rows."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any

from reportlab.lib.units import mm
from reportlab.lib.utils import ImageReader
from reportlab.platypus import Flowable, TableStyle

from shopflow.documents import Photo
from shopflow.papers.figures import Picture
from shopflow.papers.style import SMALL, para
from shopflow.papers.tables import PLAIN, placed
from shopflow.texts import gettext

ACROSS = 3
HEIGHT = 45 * mm
BETWEEN = 8.0


def photo_rows(photos: Sequence[Photo], width: float) -> list[Flowable]:
    """Pictures with their captions, three to a row."""
    share = width / ACROSS
    tables: list[Flowable] = []
    for start in range(0, len(photos), ACROSS):
        row = list(photos[start : start + ACROSS])
        cells = [[_picture(photo, share - BETWEEN), para(photo.caption, SMALL)] for photo in row]
        table = placed([cells], colWidths=[share] * len(cells), hAlign="LEFT")
        sides: list[Any] = [
            ("LEFTPADDING", (0, 0), (-1, -1), 0),
            ("RIGHTPADDING", (0, 0), (-1, -1), BETWEEN),
        ]
        table.setStyle(TableStyle([*PLAIN, *sides]))
        tables.append(table)
    return tables


def _picture(photo: Photo, width: float) -> Flowable:
    """A picture as large as its place allows, or words where its file cannot be read."""
    try:
        wide, high = ImageReader(io.BytesIO(photo.image)).getSize()
    except OSError:
        return para(gettext("This picture cannot be read."), SMALL)
    scale = min(width / wide, HEIGHT / high)
    words = (
        gettext("Photo: {caption}", caption=photo.caption)
        if photo.caption
        else gettext("Photo without a caption")
    )
    return Picture(photo.image, (wide * scale, high * scale), words)
