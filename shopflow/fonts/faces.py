"""One typeface to write with that draws every letter in the face that has it."""

from __future__ import annotations

import io
from collections.abc import Iterator
from functools import cache
from itertools import groupby, pairwise
from pathlib import Path
from threading import RLock
from typing import Any

import manimgx_fonts
from fontTools.ttLib import TTFont as OpenType
from fontTools.varLib.instancer import instantiateVariableFont
from reportlab.pdfbase.ttfonts import TTFError, TTFont

from shopflow.errors import ShopflowError
from shopflow.fonts import han
from shopflow.texts import gettext

FOLDER = Path(manimgx_fonts.__file__).parent
SCRIPTS: dict[str, tuple[tuple[int, int], ...]] = {
    "Armenian": ((0x0530, 0x058F), (0xFB13, 0xFB17)),
    "Hebrew": ((0x0590, 0x05FF), (0xFB1D, 0xFB4F)),
    "Arabic": ((0x0600, 0x06FF), (0x0750, 0x077F), (0xFB50, 0xFDFF), (0xFE70, 0xFEFF)),
    "Thai": ((0x0E00, 0x0E7F),),
    "Lao": ((0x0E80, 0x0EFF),),
    "Georgian": ((0x10A0, 0x10FF), (0x1C90, 0x1CBF)),
    "Ethiopic": ((0x1200, 0x139F),),
}
"""Scripts whose letters can be set one after the other, by their ranges in the code table.

The scripts of India, Burmese and Khmer build syllables, which takes a shaper; they are left out.
"""

SHAPED = (
    (0x0900, 0x0DFF), (0x0F00, 0x109F), (0x1700, 0x18AF), (0x1900, 0x1AAF), (0x1B00, 0x1C4F),
    (0xA800, 0xA82F), (0xA840, 0xA8FF), (0xA900, 0xA95F), (0xA980, 0xAADF), (0xABC0, 0xABFF),
    (0x11000, 0x11FFF),
)  # fmt: skip
"""Where the code table has the scripts that take a shaper: of India, Tibetan, Burmese, Khmer …"""

UPPER = frozenset("\u0e31\u0e34\u0e35\u0e36\u0e37\u0e4d\u0eb1\u0eb4\u0eb5\u0eb6\u0eb7\u0ebb\u0ecd")
TONES = frozenset("\u0e48\u0e49\u0e4a\u0e4b\u0e4c\u0ec8\u0ec9\u0eca\u0ecb\u0ecc")
"""Vowels and tones above a letter of Thai and Lao; a tone over such a vowel stands higher."""

_lock = RLock()
_shops_own: list[TTFont] = []


def needs_shaping(sign: str) -> bool:
    """Whether a letter joins others into syllables, which is not drawn even where a face has it."""
    return any(first <= ord(sign) <= last for first, last in SHAPED)


def add(path: Path) -> None:
    """Take a TrueType file of the shop's own, asked before the others for a letter that is lacking.

    Raises ShopflowError where it cannot be read or has no TrueType outlines.
    """
    try:
        face = TTFont(f"Own{len(_shops_own)}-{path.stem}", str(path))
    except TTFError as error:
        raise ShopflowError(
            gettext("{path} cannot be used as a typeface: {error}", path=path, error=error)
        ) from None
    _shops_own.append(face)


class Family(TTFont):
    """A face that hands each letter it lacks to one that has it.

    A letter that none has is drawn as an empty box.
    """

    def __init__(self, name: str, path: Path, weight: int) -> None:
        super().__init__(name, str(path))
        self._weight = weight
        self._letters = frozenset(map(chr, self.face.charToGlyph))

    def has(self, sign: str) -> bool:
        """Whether a character is drawn, here or by another face."""
        return ord(sign) in self._face_of(sign).face.charToGlyph

    def stringWidth(self, text: Any, size: float, encoding: str = "utf8") -> float:  # noqa: N802
        """Width of a line, each part of it in its own face."""
        if self._has_all(text):
            return float(super().stringWidth(text, size))
        return sum(TTFont.stringWidth(face, part, size) for face, part in self._parts(text))

    def splitString(self, text: Any, doc: Any, encoding: str = "utf-8") -> Any:  # noqa: N802
        """The parts of a line with the subset each is in; another face's is (face, subset)."""
        if self._has_all(text):
            return super().splitString(text, doc)
        return [
            (subset if face is self else (face, subset), codes)
            for face, part in self._parts(text)
            for subset, codes in TTFont.splitString(face, part, doc)
        ]

    def getSubsetInternalName(self, subset: Any, doc: Any) -> Any:  # noqa: N802
        """The PDF's own name of a subset that splitString gave."""
        if isinstance(subset, tuple):
            face, subset = subset
            return face.getSubsetInternalName(subset, doc)
        return super().getSubsetInternalName(subset, doc)

    def _has_all(self, text: str) -> bool:
        return self._letters.issuperset(text)

    def _parts(self, text: str) -> Iterator[tuple[TTFont, str]]:
        placed = [
            (self._face_of(sign, before in UPPER), sign) for before, sign in pairwise(" " + text)
        ]
        for face, signs in groupby(placed, lambda pair: pair[0]):
            yield face, "".join(sign for _, sign in signs)

    def _face_of(self, sign: str, over_vowel: bool = False) -> TTFont:
        code = ord(sign)
        if code in self.face.charToGlyph:
            return self
        with _lock:
            own = next((face for face in _shops_own if code in face.face.charToGlyph), None)
            return own or _other(code, self._weight, over_vowel and sign in TONES) or self


def _other(code: int, weight: int, raised: bool) -> TTFont | None:
    """The face that has a letter of another script, if any has."""
    for script, ranges in SCRIPTS.items():
        if any(first <= code <= last for first, last in ranges):
            return _script(script, weight, raised)
    return _han(code - code % han.ROW, weight) if han.has(code) else None


@cache
def _script(script: str, weight: int, raised: bool) -> TTFont:
    """A script's face; `raised` is one whose tones stand above the vowels."""
    font = OpenType(FOLDER / f"NotoSans{script}[wght].ttf", recalcTimestamp=False)
    fixed = instantiateVariableFont(font, {"wght": weight})
    if raised:
        _raise_tones(fixed)
    name = f"NotoSans{script}-{weight}{'-Raised' if raised else ''}"
    fixed["name"].setName(name, 6, 3, 1, 0x409)
    out = io.BytesIO()
    fixed.save(out)
    out.seek(0)
    return TTFont(name, out)


def _raise_tones(font: OpenType) -> None:
    """Lift every tone by the room that the vowels above a letter take."""
    glyphs, letters = font["glyf"], font.getBestCmap()
    shapes = {sign: glyphs[letters[ord(sign)]] for sign in UPPER | TONES if ord(sign) in letters}
    top = max(shape.yMax for sign, shape in shapes.items() if sign in UPPER)
    foot = min(shape.yMin for sign, shape in shapes.items() if sign in TONES)
    for sign in TONES & shapes.keys():
        shape = shapes[sign]
        shape.expand(glyphs)
        for component in shape.components if shape.isComposite() else ():
            component.y += top - foot
        if not shape.isComposite():
            shape.coordinates.translate((0, top - foot))
        shape.recalcBounds(glyphs)


@cache
def _han(first: int, weight: int) -> TTFont:
    name, content = han.row(first, weight)
    return TTFont(name, io.BytesIO(content))
