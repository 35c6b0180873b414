"""Scripts beside Latin, Greek and Cyrillic: their blocks in Unicode, and which are shaped."""

from __future__ import annotations

import re
from bisect import bisect_right

SCRIPTS: dict[str, tuple[tuple[int, int], ...]] = {
    "Armenian": ((0x0530, 0x058F), (0xFB13, 0xFB17)),
    "Hebrew": ((0x0590, 0x05FF), (0xFB1D, 0xFB4F)),
    "Arabic": (
        (0x0600, 0x06FF), (0x0750, 0x077F), (0x08A0, 0x08FF), (0xFB50, 0xFDFF), (0xFE70, 0xFEFF),
    ),
    "Devanagari": ((0x0900, 0x097F), (0x1CD0, 0x1CFF), (0xA8E0, 0xA8FF)),
    "Bengali": ((0x0980, 0x09FF),),
    "Gurmukhi": ((0x0A00, 0x0A7F),),
    "Gujarati": ((0x0A80, 0x0AFF),),
    "Oriya": ((0x0B00, 0x0B7F),),
    "Tamil": ((0x0B80, 0x0BFF),),
    "Telugu": ((0x0C00, 0x0C7F),),
    "Kannada": ((0x0C80, 0x0CFF),),
    "Malayalam": ((0x0D00, 0x0D7F),),
    "Sinhala": ((0x0D80, 0x0DFF),),
    "Thai": ((0x0E00, 0x0E7F),),
    "Lao": ((0x0E80, 0x0EFF),),
    "Myanmar": ((0x1000, 0x109F), (0xA9E0, 0xA9FF), (0xAA60, 0xAA7F)),
    "Georgian": ((0x10A0, 0x10FF), (0x1C90, 0x1CBF)),
    "Ethiopic": ((0x1200, 0x139F),),
    "Khmer": ((0x1780, 0x17FF), (0x19E0, 0x19FF)),
}  # fmt: skip
"""Scripts that a face of their own draws, by their ranges of code points."""

JOINERS = "\u200c\u200d"
"""Zero-width non-joiner and joiner: they choose a letter's form and have none themselves."""

_JOINING = (
    "\u0900-\u0dff\u0f00-\u109f\u1700-\u18af\u1900-\u1aaf\u1b00-\u1c4f\u1cd0-\u1cff\ua800-\ua82f"
    "\ua840-\ua95f\ua980-\uaadf\uabc0-\uabff\U00011000-\U00011fff"
)
SYLLABIC = re.compile(f"[{_JOINING}]")
"""Letters that join into syllables: of India, Tibetan, Burmese, Khmer and their like."""

SHAPED = re.compile(
    f"[{_JOINING}\u0590-\u08ff\u0e00-\u0eff\ufb1d-\ufdff\ufe70-\ufefe"
    "\U00010800-\U00010fff\U0001e800-\U0001eeff]"
)
"""Letters whose form or place depends on their neighbours, or that run from right to left."""

_BEGINNINGS = sorted(
    (first, last, script) for script, ranges in SCRIPTS.items() for first, last in ranges
)


def needs_shaping(text: str) -> bool:
    """Tell whether a text has letters that take a shaper to be drawn right."""
    return not text.isascii() and SHAPED.search(text) is not None


def script_of(sign: str) -> str | None:
    """The script of `SCRIPTS` that a character belongs to, if any."""
    index = bisect_right(_BEGINNINGS, (ord(sign), 0x110000, "")) - 1
    if index < 0:
        return None
    _, last, script = _BEGINNINGS[index]
    return script if ord(sign) <= last else None
