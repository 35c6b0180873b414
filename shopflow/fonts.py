"""The one typeface, on paper and screen: Source Sans Pro, from its package."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import font_source_sans_pro
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

FOLDER = Path(font_source_sans_pro.font_directory)
REGULAR = "SourceSans"
BOLD = "SourceSans-Bold"
ITALIC = "SourceSans-Italic"
FILES = {
    REGULAR: "SourceSansPro-Regular.ttf",
    BOLD: "SourceSansPro-Semibold.ttf",
    ITALIC: "SourceSansPro-It.ttf",
}


@cache
def register() -> None:
    """Make the family known to reportlab, once in a process."""
    for name, file in FILES.items():
        pdfmetrics.registerFont(TTFont(name, str(FOLDER / file)))
    pdfmetrics.registerFontFamily(REGULAR, REGULAR, BOLD, ITALIC, BOLD)


def width(text: str, size: float, name: str = REGULAR) -> float:
    """Width of a line of text in points."""
    register()
    return float(pdfmetrics.stringWidth(text, name, size))


def fitted(text: str, size: float, most: float, name: str = REGULAR) -> str:
    """The text, shortened with an ellipsis where it is wider than `most` points."""
    if width(text, size, name) <= most:
        return text
    # Halving, since an address may be thousands of letters long.
    kept, cut = 0, len(text)
    while cut - kept > 1:
        middle = (kept + cut) // 2
        if width(text[:middle] + "…", size, name) <= most:
            kept = middle
        else:
            cut = middle
    return text[:kept].rstrip() + "…"
