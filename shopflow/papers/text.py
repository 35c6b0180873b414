"""Plain text on paper: broken into lines, in one face, size and colour."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence
from itertools import accumulate
from typing import Any

from reportlab.lib.enums import TA_CENTER, TA_LEFT
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Flowable

from shopflow import fonts
from shopflow.papers.structure import Heading, Structure, Tag, structure_of

Line = tuple[str, float]
"""A line of text, and the room it leaves free: less than none where its spaces must shrink."""

_WORD = re.compile(r"[\S\xa0]+")
"""Unit in which no line is broken: a no-break space belongs to its words."""

TOO_LITTLE = 1e-8
"""Points that nobody sees."""


class Text(Flowable):
    """Text that takes its place in a column, its line breaks kept, nothing in it taken for markup.

    A word wider than the column is broken, between syllables where letters build them. Arabic and
    Hebrew are broken into lines as they are read, then put in drawn order. A bullet stands before
    the first line.
    """

    def __init__(
        self,
        text: str,
        style: ParagraphStyle,
        bullet: str = "",
        tag: Tag | None = None,
        label: Tag | None = None,
    ) -> None:
        super().__init__()
        self.style, self.bullet = style, bullet
        # Readers of the text would join a line to the next one.
        self.text = fonts.printable(text).replace("\n", " \n")
        self.tag = tag or Tag("P")
        """The text's own element; the bullet's is `label`."""

        self.label = label
        self._laid: list[Line] = []
        self._laid_within = -1.0

    def wrap(self, availWidth: float, availHeight: float) -> tuple[float, float]:  # noqa: N803
        """Width and height it takes up."""
        self.width, self.height = availWidth, len(self._lines(availWidth)) * self.style.leading
        return self.width, self.height

    def split(self, availWidth: float, availHeight: float) -> list[Flowable]:  # noqa: N803
        """Split the text into the lines that fit the height, and the rest; empty where fewer than
        two fit."""
        # A table's row asks with a width that counts the space beside the text in.
        lines = [line for line, _ in self._laid or self._lines(availWidth)]
        count = int(availHeight / self.style.leading)
        if count < 2:
            return []
        if count >= len(lines):
            return [self]
        first, rest = "\n".join(lines[:count]), "\n".join(lines[count:])
        parts = [
            Text("", self.style, self.bullet, self.tag, self.label),
            Text("", self.style, tag=self.tag),
        ]
        parts[0].text, parts[1].text = first, rest
        return list(parts)

    def draw(self) -> None:
        """Draw the lines; reportlab calls this with the origin at the lower left."""
        self.canv.setFillColor(self.style.textColor)
        if not self._laid:
            return
        structure = structure_of(self.canv)
        if structure.is_inside:
            self._draw_bullet()
            self._draw_lines()
        else:
            self._draw_marked(structure)

    def _draw_marked(self, structure: Structure) -> None:
        label = None if self.label is None else self.label.of(structure)
        element = self.tag.of(structure)
        if self.tag.level and not element.kids:
            self._note_heading(structure)
        if fonts.needs_shaping(self.text) and fonts.runs_leftwards(self.text):
            # Its letters stand in the order they are drawn in. A text that takes their place
            # (ActualText) would be turned round once more by readers that know of such lines.
            words = f"{element.alternative} {self.text}"
            element.alternative = " ".join(words.split())
        if self.bullet:
            structure.begin(self.canv, label or element)
            self._draw_bullet()
            structure.end()
        operators = self.plain(self.canv, (0.0, 0.0))
        if operators is not None:
            structure.write(self.canv, element, operators)
            return
        structure.begin(self.canv, element)
        self._draw_lines()
        structure.end()

    def plain(self, canvas: Any, at: tuple[float, float]) -> str | None:
        """PDF's operators for lines that stand under each other as they are, from the lower left;
        None for others."""
        style, lines = self.style, self._laid
        aside = self._overrun()
        if style.alignment != TA_LEFT and len(lines) == 1:
            aside += lines[0][1] * (0.5 if style.alignment == TA_CENTER else 1.0)
        elif style.alignment != TA_LEFT or (aside and len(lines) > 1):
            return None
        if any(spare < -TOO_LITTLE for _, spare in lines):
            return None
        first = (at[0] + style.leftIndent + aside, at[1] + self.height - style.fontSize)
        texts = [line for line, _ in lines]
        return fonts.plain(canvas, first, texts, style.fontName, (style.fontSize, style.leading))

    def _note_heading(self, structure: Structure) -> None:
        canvas = self.canv
        _, top = canvas.absolutePosition(0, self.height)
        words = " ".join(self.text.split())
        structure.headings.append(Heading(self.tag.level, words, canvas.getPageNumber(), top))

    def _draw_bullet(self) -> None:
        if self.bullet:
            style, canvas = self.style, self.canv
            canvas.setFont(style.bulletFontName, style.bulletFontSize)
            canvas.drawString(style.bulletIndent, self.height - style.fontSize, self.bullet)

    def _draw_lines(self) -> None:
        style, canvas = self.style, self.canv
        text = canvas.beginText(style.leftIndent, self.height - style.fontSize)
        text.setFont(style.fontName, style.fontSize, style.leading)
        overrun = self._overrun()
        for line, spare in self._laid:
            self._draw_line(text, line, spare, overrun)
            overrun = 0.0
        canvas.drawText(text)

    def _draw_line(self, text: Any, line: str, spare: float, aside: float) -> None:
        """A line where its alignment has it, `aside` of where the others begin."""
        words = line.removesuffix(" ")
        spaces = words.count(" ") + words.count("\xa0")
        shrunk = spare < -TOO_LITTLE and spaces > 0
        if self.style.alignment != TA_LEFT and not shrunk:
            aside += 0.5 * spare if self.style.alignment == TA_CENTER else spare
        if aside:
            text.setXPos(aside)
        if shrunk:
            text.setWordSpace(spare / spaces)
        fonts.write(text, line, self.style.fontName, self.style.fontSize)
        if shrunk:
            text.setWordSpace(0)
        if aside:
            text.setXPos(-aside)

    def _overrun(self) -> float:
        """Distance by which the bullet pushes the first line aside."""
        style = self.style
        if not self.bullet:
            return 0.0
        width = fonts.width(self.bullet, style.bulletFontSize, style.bulletFontName)
        return max(0.0, style.bulletIndent + width + 0.6 * style.bulletFontSize - style.leftIndent)

    def _lines(self, width: float) -> list[Line]:
        if self._laid_within != width:
            self._laid, self._laid_within = list(self._broken(width)), width
        return self._laid

    def _broken(self, width: float) -> Iterator[Line]:
        """The lines as they fit between the indents."""
        most = width - self.style.leftIndent - self.style.rightIndent
        room = most - self._overrun()
        for text in self.text.removesuffix("\n").split("\n") if _WORD.search(self.text) else ():
            *lines, (last, spare) = self._filled(_WORD.findall(text), room, most)
            yield from lines
            yield f"{last} " if text.endswith(" ") else last, spare
            room = most

    def _filled(self, words: list[str], room: float, most: float) -> Iterator[Line]:
        """Lines with as many words as they hold: the first has `room`, the others `most`.

        One broken between words ends with a space, or a reader of the text would join them.
        """
        size, family = self.style.fontSize, fonts.family(self.style.fontName)
        width_of = family.stringWidth
        joined = " ".join(words)
        if (width := width_of(joined, size)) <= room:
            yield joined, room - width
            return
        space = width_of(" ", size)
        shrinks = space * self.style.spaceShrinkage
        line: list[str] = []
        used = -space
        for word in words:
            width, rest = width_of(word, size), None
            while used + space + width > room + len(line) * shrinks and (line or len(word) > 1):
                if width > room:
                    rest = rest or _Rest(family.syllables(word), width_of, size)
                    if rest.is_single and not line:
                        break
                    part, width_used = rest.take(room - used - space, 0 if line else 1)
                    line.append(part)
                    used += space + width_used
                    word, width = rest.text, rest.width
                yield " ".join(line if rest else [*line, ""]), room - used
                line, used, room = [], -space, most
            line.append(word)
            used += space + width
        yield " ".join(line), room - used


class _Rest:
    """Rest of a word that is broken; it may be a page of Han letters."""

    def __init__(
        self, signs: Sequence[str], width_of: Callable[[str, float], float], size: float
    ) -> None:
        self._signs = signs
        self._ends = list(accumulate((width_of(sign, size) for sign in signs), initial=0.0))
        self._begun = 0

    @property
    def is_single(self) -> bool:
        """True where it cannot be broken."""
        return len(self._signs) - self._begun <= 1

    @property
    def text(self) -> str:
        """Its letters."""
        return "".join(self._signs[self._begun :])

    @property
    def width(self) -> float:
        """Its width."""
        return self._ends[-1] - self._ends[self._begun]

    def take(self, room: float, least: int) -> tuple[str, float]:
        """Take off what fits, `least` letters or more and never the last; its text and width."""
        begun = self._begun
        fits = bisect_right(self._ends, self._ends[begun] + room, begun) - 1
        self._begun = max(min(fits, len(self._signs) - 1), begun + least)
        width = self._ends[self._begun] - self._ends[begun]
        return "".join(self._signs[begun : self._begun]), width
