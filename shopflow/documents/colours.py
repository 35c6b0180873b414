"""Telling whether a colour can be read on white paper, printed in colour or in grey."""

from __future__ import annotations

import re

from shopflow.texts import gettext

TEXT_CONTRAST = 4.5
RULE_CONTRAST = 3.0
"""Least contrast of text, and of rules and bars (WCAG 2.2, success criteria 1.4.3 and 1.4.11)."""


def contrast_on_white(colour: str) -> float:
    """Contrast of a colour, as "#0f4c75", with white, from 1 to 21.

    (1 + 0.05) / (L + 0.05), L the relative luminance of sRGB (WCAG 2.2). It depends on the
    luminance alone, so a colour that can be read keeps its contrast when printed in grey.
    Raises ValueError where the text is no colour.

    >>> contrast_on_white("#000000")
    21.0
    """
    if not re.fullmatch(r"#[0-9a-fA-F]{6}", colour):
        raise ValueError(gettext("'{value}' is not a color, as '#0f4c75'", value=colour))
    red, green, blue = (_linear(int(colour[start : start + 2], 16) / 255) for start in (1, 3, 5))
    return 1.05 / (0.2126 * red + 0.7152 * green + 0.0722 * blue + 0.05)


def _linear(part: float) -> float:
    """Linear light of one channel."""
    return part / 12.92 if part <= 0.04045 else float(((part + 0.055) / 1.055) ** 2.4)
