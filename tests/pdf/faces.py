"""The typefaces of the papers, as registered with reportlab."""

from __future__ import annotations

from reportlab.pdfbase import pdfmetrics

from shopflow import fonts
from shopflow.fonts.faces import Family


def family(name: str = fonts.REGULAR) -> Family:
    """A typeface with those that stand in for signs it lacks."""
    fonts.register()
    face = pdfmetrics.getFont(name)
    assert isinstance(face, Family), f"{name} is registered as {type(face).__name__}"
    return face
