"""The faces papers are written in, made known to reportlab when the first letter is asked for."""

from __future__ import annotations

import os
from functools import cache
from pathlib import Path
from threading import Lock
from typing import cast

from reportlab.pdfbase import pdfmetrics

from shopflow.fonts import files
from shopflow.fonts.faces import Family, add

REGULAR = "SourceSans"
BOLD = "SourceSans-Bold"
ITALIC = "SourceSans-Italic"
FILES = {
    REGULAR: "SourceSansPro-Regular.ttf",
    BOLD: "SourceSansPro-Semibold.ttf",
    ITALIC: "SourceSansPro-It.ttf",
}
WEIGHTS = {REGULAR: 400, BOLD: 600, ITALIC: 400}

_registering = Lock()


def register() -> None:
    """Make the family known to reportlab, once in a process, and the shop's own files with it.

    SHOPFLOW_TYPEFACES names those, separated as in PATH. Raises ShopflowError where one is not a
    TrueType file.
    """
    with _registering:
        _register()


@cache
def _register() -> None:
    for path in filter(None, os.environ.get("SHOPFLOW_TYPEFACES", "").split(os.pathsep)):
        add(Path(path))
    for name, file in FILES.items():
        pdfmetrics.registerFont(Family(name, files.path(file), WEIGHTS[name]))
    pdfmetrics.registerFontFamily(REGULAR, REGULAR, BOLD, ITALIC, BOLD)


@cache
def family(name: str) -> Family:
    """A face by its name, with those that draw what it lacks."""
    register()
    return cast(Family, pdfmetrics.getFont(name))
