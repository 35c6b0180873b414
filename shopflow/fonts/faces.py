"""One typeface to write with that draws every letter in the face that has it."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from functools import cache
from itertools import groupby
from pathlib import Path
from threading import RLock
from typing import Any

from fontTools.ttLib import TTFont as OpenType
from reportlab.pdfbase.ttfonts import TTFError, TTFont

from shopflow.errors import ShopflowError
from shopflow.fonts import files, han
from shopflow.fonts.direction import runs_leftwards
from shopflow.fonts.scripts import SYLLABIC, needs_shaping, script_of
from shopflow.fonts.shaping import Run, has_rules, pieces, runs, shaped, syllables
from shopflow.texts import gettext

NORMAL = 400
"""The weight that the files hold unless another is made of them."""

_lock = RLock()
_shops_own: list[OwnFace] = []


class OwnFace(TTFont):
    """A face of the shop's own."""

    def __init__(self, name: str, path: Path) -> None:
        super().__init__(name, str(path))
        # It may be one of the files that are here already.
        self.face.name = name.encode() + b"-" + self.face.name
        self.letters = frozenset(map(chr, self.face.charToGlyph))


def add(path: Path) -> None:
    """Take a TrueType file of the shop's own, asked before the others for a letter that is lacking.

    Raises ShopflowError where it cannot be read or has no TrueType outlines.
    """
    try:
        face = OwnFace(f"Own{len(_shops_own)}", path)
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
        """Tell whether a character is drawn, here or by another face."""
        script = script_of(sign)
        return (
            sign in self._letters
            or _own(sign) is not None
            or (script is not None and sign in _letters_of(script))
            or han.has(ord(sign))
        )

    def draws_apart(self, sign: str) -> bool:
        """Tell whether a letter joins syllables, and its face lacks the rules for that."""
        own = _own(sign)
        return own is not None and SYLLABIC.match(sign) is not None and not has_rules(own, sign)

    def runs(self, line: str) -> Iterator[Run]:
        """The parts of a line with letters that are shaped, in drawn order."""
        return runs(line, self._shaping)

    def syllables(self, word: str) -> Sequence[str]:
        """The least parts of a word that can stand on different lines."""
        return list(syllables(word, self._shaping)) if needs_shaping(word) else word

    def stringWidth(self, text: Any, size: float, encoding: str = "utf8") -> float:  # noqa: N802
        """Width of a line, each part of it in its own face."""
        if self._has_all(text):
            return float(super().stringWidth(text, size))
        if needs_shaping(text):
            parts = pieces(text, self._shaping)
            return sum(self._width_of(face, part, size) for face, part in parts)
        return self._plain_width(text, size)

    def splitString(self, text: Any, doc: Any, encoding: str = "utf-8") -> Any:  # noqa: N802
        """The parts of a line with the subset each is in; another face's is (face, subset)."""
        if self._has_all(text):
            return super().splitString(text, doc)
        parts = list(self._parts(text))
        if any(face is self and not self._has_all(part) for face, part in parts):
            doc.has_boxes = True
        return [
            (subset if face is self else (face, subset), codes)
            for face, part in parts
            for subset, codes in TTFont.splitString(face, part, doc)
        ]

    def codes(self, line: str, doc: Any) -> bytes | None:
        """The codes of a line in the first subset; None where it is not all in there."""
        try:
            state: Any = self.state[doc]
            assigned = state.assignments
            return bytes([assigned[ord(sign)] for sign in line])
        except (KeyError, ValueError):
            # A letter is new, or in another subset or face.
            if not self._has_all(line) or needs_shaping(line):
                return None
            parts = super().splitString(line, doc)
            return parts[0][1] if len(parts) == 1 and parts[0][0] == 0 else None

    def getSubsetInternalName(self, subset: Any, doc: Any) -> Any:  # noqa: N802
        """The PDF's own name of a subset that splitString gave."""
        if isinstance(subset, tuple):
            face, subset = subset
            return face.getSubsetInternalName(subset, doc)
        return super().getSubsetInternalName(subset, doc)

    def _has_all(self, text: str) -> bool:
        return self._letters.issuperset(text)

    def _width_of(self, face: TTFont | None, text: str, size: float) -> float:
        if face is None:
            return self._plain_width(text, size)
        return shaped(face, text, runs_leftwards(text)).advance * size / 1000

    def _plain_width(self, text: str, size: float) -> float:
        return sum(TTFont.stringWidth(face, part, size) for face, part in self._parts(text))

    def _parts(self, text: str) -> Iterator[tuple[TTFont, str]]:
        for face, signs in groupby(text, self._face_of):
            yield face, "".join(signs)

    def _shaping(self, sign: str) -> TTFont | None:
        face = self._face_of(sign)
        return None if face is self else face

    def _face_of(self, sign: str) -> TTFont:
        if sign in self._letters:
            return self
        with _lock:
            return _own(sign) or _other(sign, self._weight) or self


def _own(sign: str) -> OwnFace | None:
    return next((face for face in _shops_own if sign in face.letters), None)


def _other(sign: str, weight: int) -> TTFont | None:
    """The face that has a letter of another script, if any has."""
    script = script_of(sign)
    if script is not None and sign in _letters_of(script):
        return _face_of_script(script, weight)
    return _han(ord(sign) - ord(sign) % han.ROW, weight) if han.has(ord(sign)) else None


@cache
def _letters_of(script: str) -> frozenset[str]:
    """The characters that a script's face has, read without making it ready to draw."""
    with OpenType(_file_of(script), lazy=True) as font:
        return frozenset(map(chr, font.getBestCmap()))


@cache
def _face_of_script(script: str, weight: int) -> TTFont:
    name = f"NotoSans{script}-{weight}"
    face = TTFont(name, str(_file_of(script)) if weight == NORMAL else _at_weight(script, weight))
    face.face.name = name.encode()
    return face


def _at_weight(script: str, weight: int) -> io.BytesIO:
    """A file of one weight, made of that which holds all."""
    # Half as long to import as all the rest, and rarely needed.
    from fontTools.varLib.instancer import instantiateVariableFont

    font = OpenType(_file_of(script), recalcTimestamp=False)
    out = io.BytesIO()
    instantiateVariableFont(font, {"wght": weight}).save(out)
    out.seek(0)
    return out


def _file_of(script: str) -> Path:
    return files.path(f"NotoSans{script}[wght].ttf")


@cache
def _han(first: int, weight: int) -> TTFont:
    name, content = han.row(first, weight)
    return TTFont(name, io.BytesIO(content))
