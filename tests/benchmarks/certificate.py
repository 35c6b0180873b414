"""A flow certificate of two pages with charts, against its marks drawn by the canvas alone."""

from __future__ import annotations

import io
from collections.abc import Iterator
from functools import partial
from typing import Any

import pymupdf
from reportlab.lib.colors import Color, HexColor
from reportlab.pdfgen.canvas import Canvas

from shopflow import fonts
from shopflow.documents import FlowCertificate
from shopflow.papers.flow_certificate import flow_certificate
from tests.benchmarks.measuring import Bench, Row, agree, in_turns
from tests.pdf import samples

FACE: dict[str, Any] = {"initialFontName": fonts.REGULAR}


def measure(bench: Bench) -> Iterator[Row]:
    """From the frozen data to the PDF; and from a list of marks, read out of that PDF."""
    content = two_pages()
    row = pymupdf.open(stream=flow_certificate(content))
    pages = [(page.rect, _words(page), page.get_drawings()) for page in row]
    drawn = pymupdf.open(stream=_drawn(pages))
    agree([_letters(page) for page in drawn], [_letters(page) for page in row], "the words")
    total, bare = in_turns(
        bench.rounds * 3, partial(flow_certificate, content), partial(_drawn, pages)
    )
    name = f"flow certificate of {len(pages)} pages with charts"
    yield Row(name, "its marks by the canvas alone", total, bare, 2)


def two_pages() -> FlowCertificate:
    """One port as received and after the work, with the gain."""
    before, after = samples.session(), samples.session(stage="after the work")
    return samples.certificate([before, after], (samples.gain(before, after),))


def _words(page: pymupdf.Page) -> list[dict[str, Any]]:
    blocks = page.get_text("dict")["blocks"]
    return [span for block in blocks for line in block.get("lines", ()) for span in line["spans"]]


def _letters(page: pymupdf.Page) -> str:
    return "".join(sorted("".join(page.get_text().split())))


def _drawn(pages: list[tuple[pymupdf.Rect, list[dict[str, Any]], list[dict[str, Any]]]]) -> bytes:
    """Every line, area and word in its place, font and colour; no layout, no tables, no data."""
    fonts.register()
    out = io.BytesIO()
    canvas = Canvas(out, invariant=1, **FACE)
    for size, words, drawings in pages:
        canvas.setPageSize((size.width, size.height))
        for drawing in drawings:
            _draw(canvas, size.height, drawing)
        for word in words:
            canvas.setFont(fonts.BOLD if "Bold" in word["font"] else fonts.REGULAR, word["size"])
            canvas.setFillColor(HexColor(word["color"]))
            x, y = word["origin"]
            canvas.drawString(x, size.height - y, word["text"])
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def _draw(canvas: Canvas, top: float, drawing: dict[str, Any]) -> None:
    path = canvas.beginPath()
    for kind, *points in drawing["items"]:
        if kind == "re":
            box = points[0]
            path.rect(box.x0, top - box.y1, box.width, box.height)
        elif kind in ("l", "c"):
            (x, y), *rest = [(point.x, top - point.y) for point in points]
            path.moveTo(x, y)
            flat = [value for point in rest for value in point]
            (path.lineTo if kind == "l" else path.curveTo)(*flat)
    if drawing.get("fill"):
        canvas.setFillColor(Color(*drawing["fill"]))
    if drawing.get("color"):
        canvas.setStrokeColor(Color(*drawing["color"]))
        canvas.setLineWidth(drawing["width"] or 0)
    canvas.drawPath(path, stroke=bool(drawing.get("color")), fill=bool(drawing.get("fill")))
