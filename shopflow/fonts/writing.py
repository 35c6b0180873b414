"""Lines of text put on a page, those that are shaped in a span that says what they read."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from reportlab.lib.rl_accel import fp_str

from shopflow.fonts.family import family
from shopflow.fonts.scripts import needs_shaping
from shopflow.fonts.shaping import Face, Glyph, Run, shaped


def write(text: Any, line: str, name: str, size: float) -> None:
    """Write a line at a text object's cursor, which goes on to the next line.

    Shaped glyphs stand for no letters: a span that says what they read (ISO 32000-1, 14.9.4) lets
    them be searched, copied and read out.
    """
    if needs_shaping(line):
        # A space at the end parts it from the next line; drawn from right to left it would stand
        # before the words.
        words = line.rstrip(" ")
        _write_runs(text, words, name, size)
        line = line[len(words) :]
    text.textLine(line)


def plain(
    canvas: Any,
    at: tuple[float, float],
    lines: Sequence[str],
    name: str,
    type_: tuple[float, float],
) -> str | None:
    """PDF's operators that write lines under each other, in a size and leading; None where one has
    letters that are shaped or of another face.

    A text object of reportlab's comes to the same in three times the time.
    """
    face, document = family(name), canvas._doc
    shown = []
    for line in lines:
        codes = face.codes(line, document)
        if codes is None:
            return None
        shown.append(f"({canvas._escape(codes)}) Tj")
    written = " T* ".join(shown)
    return f"BT 1 0 0 1 {fp_str(*at)} Tm {_chosen(canvas, name, type_)} {written} ET"


def _chosen(canvas: Any, name: str, type_: tuple[float, float]) -> str:
    """The operators that choose a face, its size and leading, worked out once in a document."""
    chosen: dict[Any, str] = canvas.__dict__.setdefault("faces_chosen", {})
    if (name, type_) not in chosen:
        font = family(name).getSubsetInternalName(0, canvas._doc)
        size, leading = map(fp_str, type_)
        chosen[name, type_] = f"{font} {size} Tf {leading} TL"
    return chosen[name, type_]


def draw(
    canvas: Any, at: tuple[float, float], line: str, name: str, size: float, anchor: str = "start"
) -> None:
    """Draw a line that starts at a point, ends there or has its middle there."""
    shift = {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor]
    x, y = at
    if shift:
        x -= shift * family(name).stringWidth(line, size)
    operators = plain(canvas, (x, y), [line], name, (size, size))
    if operators is not None:
        canvas._code.append(operators)
        return
    text = canvas.beginText(x, y)
    text.setFont(name, size)
    write(text, line, name, size)
    canvas.drawText(text)


def _write_runs(text: Any, line: str, name: str, size: float) -> None:
    leading = text._leading
    for run in family(name).runs(line):
        if run.face is None:
            text.setFont(name, size, leading)
            text.textOut(run.text)
        else:
            _write_run(text, run.face, run, size)
    text.setFont(name, size, leading)


def _write_run(text: Any, face: Face, run: Run, size: float) -> None:
    for part in shaped(face, run.text, run.leftwards).parts:
        operators = _operators(text, face, part.glyphs, size)
        if not part.is_letter:
            read = part.text.encode("utf-16-be").hex().upper()
            operators = f"/Span <</ActualText <FEFF{read}>>> BDC {operators} EMC"
        text._code.append(operators)


def _operators(text: Any, face: Face, glyphs: Iterable[Glyph], size: float) -> str:
    """PDF's operators that show glyphs, each moved to its place and back (ISO 32000-1, 9.4.3)."""
    document = text._canvas._doc
    operators: list[str] = []
    chosen = None
    for glyph in glyphs:
        ((subset, code),) = face.splitString(glyph.code, document)
        if subset != chosen:
            operators.append(f"{face.getSubsetInternalName(subset, document)} {fp_str(size)} Tf")
            chosen = subset
        back = glyph.width - glyph.advance + glyph.aside
        operator = f"[{fp_str(-glyph.aside)} ({text._canvas._escape(code)}) {fp_str(back)}] TJ"
        if glyph.above:
            operator = f"{fp_str(glyph.above * size / 1000)} Ts {operator} 0 Ts"
        operators.append(operator)
    return " ".join(operators)
