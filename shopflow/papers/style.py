"""The look all papers share: type, tables, the frame of a page, and finishing the file."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from xml.sax.saxutils import escape
from zoneinfo import ZoneInfo

import pikepdf
from reportlab import rl_config
from reportlab.lib import colors
from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    BaseDocTemplate,
    CondPageBreak,
    Flowable,
    Frame,
    PageTemplate,
    Paragraph,
    Spacer,
    Table,
    TableStyle,
)

from shopflow import fonts
from shopflow.papers.cautions import DEFERRAL
from shopflow.papers.data import Display, Letterhead

# Plain binary streams: a quarter smaller than text ones, and faster to write.
rl_config.useA85 = 0

INK = colors.HexColor("#1c2430")
SOFT = colors.HexColor("#5a6472")
RULE = colors.HexColor("#c3cad3")
SHADE = colors.HexColor("#f1f4f7")
ACCENT = colors.HexColor("#0f4c75")
SIZES = {"A4": A4, "Letter": LETTER}
MARGIN = 16 * mm
HEAD = 25 * mm
FOOT = 15 * mm


def _style(name: str, size: float, **rest: Any) -> ParagraphStyle:
    settings: dict[str, Any] = {
        "fontName": fonts.REGULAR,
        "fontSize": size,
        "leading": size * 1.25,
        "textColor": INK,
        # A long word without a space must not run over the edge.
        "splitLongWords": 1,
    }
    return ParagraphStyle(name, **(settings | rest))


TITLE = _style("title", 19, fontName=fonts.BOLD, textColor=ACCENT, spaceAfter=2)
HEADING = _style("heading", 11.5, fontName=fonts.BOLD, spaceBefore=9, spaceAfter=4)
BODY = _style("body", 9.2)
SMALL = _style("small", 8, textColor=SOFT)
LABEL = _style("label", 7.6, textColor=SOFT)
CELL = _style("cell", 8.8)
CELL_BOLD = _style("cell-bold", 8.8, fontName=fonts.BOLD)
COLUMN = _style("column", 7.8, fontName=fonts.BOLD, textColor=SOFT)
COLUMN_RIGHT = _style("column-right", 7.8, fontName=fonts.BOLD, textColor=SOFT, alignment=TA_RIGHT)


def para(text: object, style: ParagraphStyle = BODY) -> Paragraph:
    """Text as a paragraph, nothing in it taken for markup, its line breaks kept."""
    fonts.register()
    return Paragraph(escape(str(text)).replace("\n", "<br/>"), style)


def heading(text: str) -> list[Flowable]:
    """A section's heading, never left alone at the foot of a page.

    What follows may be a table of many pages, which must start here and not on the next page.
    """
    return [CondPageBreak(30 * mm), para(text, HEADING)]


def bullets(texts: Sequence[str], sign: str = "•") -> list[Flowable]:
    """A list of short paragraphs, each behind a sign."""
    style = _style(
        "bullet", 9, leftIndent=12, bulletIndent=1, spaceAfter=2.5, bulletFontName=fonts.REGULAR
    )
    fonts.register()
    return [Paragraph(escape(text), style, bulletText=sign) for text in texts]


def when(moment: datetime | None, display: Display, *, clock: bool = False) -> str:
    """A moment in the shop's zone; a dash where there is none."""
    if moment is None:
        return "–"
    local = moment.astimezone(ZoneInfo(display.time_zone))
    return f"{local:%Y-%m-%d %H:%M}" if clock else f"{local:%Y-%m-%d}"


def day(found: date | None) -> str:
    """A date, or a dash."""
    return found.isoformat() if found else "–"


@dataclass(frozen=True)
class Sheet:
    """The frame every page of one paper has."""

    shop: Letterhead
    display: Display
    kind: str
    """As "Flow certificate"."""

    number: str
    """Printed on every page, as is the kind."""

    made_at: datetime

    @property
    def width(self) -> float:
        """Width between the margins, in points."""
        return float(SIZES[self.display.paper_size][0] - 2 * MARGIN)

    def build(
        self, story: Sequence[Flowable], attachments: Mapping[str, str] | None = None
    ) -> bytes:
        """The paper as PDF; the same story gives the same bytes."""
        fonts.register()
        size = SIZES[self.display.paper_size]
        buffer = io.BytesIO()
        document = BaseDocTemplate(
            buffer, pagesize=size, invariant=1, initialFontName=fonts.REGULAR, title=self.kind
        )
        frame = Frame(
            MARGIN, FOOT, self.width, size[1] - HEAD - FOOT,
            leftPadding=0, rightPadding=0, topPadding=0, bottomPadding=0,
        )  # fmt: skip
        document.addPageTemplates(PageTemplate(frames=[frame]))
        document.build(list(story), canvasmaker=self._canvas)
        return self._finish(buffer.getvalue(), attachments or {})

    def _canvas(self, *arguments: Any, **settings: Any) -> _CountingCanvas:
        settings["initialFontName"] = fonts.REGULAR
        return _CountingCanvas(self, *arguments, **settings)

    def decorate(self, canvas: Canvas, page: int, pages: int) -> None:
        """Letterhead, number, and page x of y."""
        width, height = SIZES[self.display.paper_size]
        canvas.setFillColor(INK)
        canvas.setFont(fonts.BOLD, 11)
        top = height - 12 * mm
        most = self.width * 0.58
        canvas.drawString(MARGIN, top, fonts.fitted(self.shop.name, 11, most, fonts.BOLD))
        canvas.setFont(fonts.REGULAR, 8)
        canvas.setFillColor(SOFT)
        address = ", ".join(self.shop.address.splitlines())
        reach = "   ".join(text for text in (self.shop.phone, self.shop.email) if text)
        canvas.drawString(MARGIN, top - 11, fonts.fitted(address, 8, most))
        canvas.drawString(MARGIN, top - 20.5, fonts.fitted(reach, 8, most))
        canvas.drawRightString(width - MARGIN, top - 11, self.kind)
        canvas.setFont(fonts.BOLD, 11)
        canvas.setFillColor(INK)
        canvas.drawRightString(width - MARGIN, top, self.number)
        canvas.setStrokeColor(RULE)
        canvas.setLineWidth(0.8)
        canvas.line(MARGIN, height - HEAD + 4 * mm, width - MARGIN, height - HEAD + 4 * mm)
        canvas.setFont(fonts.REGULAR, 8)
        canvas.setFillColor(SOFT)
        canvas.drawString(MARGIN, 9 * mm, f"{self.kind} {self.number}")
        canvas.drawRightString(width - MARGIN, 9 * mm, f"Page {page} of {pages}")

    def _finish(self, content: bytes, attachments: Mapping[str, str]) -> bytes:
        """Set the document's own description and attach the files."""
        stamp = self.made_at.astimezone(ZoneInfo("UTC")).strftime("D:%Y%m%d%H%M%SZ")
        with pikepdf.open(io.BytesIO(content)) as pdf:
            pdf.docinfo = pdf.make_indirect(
                pikepdf.Dictionary(
                    Title=f"{self.kind} {self.number}",
                    Author=self.shop.name,
                    Producer="shopflow",
                    CreationDate=stamp,
                    ModDate=stamp,
                )
            )
            pdf.Root.Lang = pikepdf.String("en")
            pdf.Root.ViewerPreferences = pikepdf.Dictionary(DisplayDocTitle=True)
            for name, text in attachments.items():
                pdf.attachments[name] = pikepdf.AttachedFileSpec(
                    pdf,
                    text.encode(),
                    filename=name,
                    mime_type="application/toml",
                    creation_date=stamp,
                    mod_date=stamp,
                )
            out = io.BytesIO()
            pdf.save(out, deterministic_id=True)
        return out.getvalue()


class _CountingCanvas(Canvas):
    """A canvas that knows, on each page, how many pages there are."""

    def __init__(self, sheet: Sheet, *arguments: Any, **settings: Any) -> None:
        super().__init__(*arguments, **settings)
        self._sheet = sheet
        self._pages: list[dict[str, Any]] = []

    def showPage(self) -> None:  # noqa: N802
        """Keep the page until the number of pages is known."""
        self._pages.append(dict(self.__dict__))
        self._startPage()  # type: ignore[attr-defined]

    def save(self) -> None:
        """Decorate and write the pages kept."""
        for page, state in enumerate(self._pages, start=1):
            self.__dict__.update(state)
            self._sheet.decorate(self, page, len(self._pages))
            super().showPage()
        super().save()


def facts(rows: Sequence[tuple[str, str]], width: float, columns: int = 2) -> Table:
    """Labels with their values, in columns; empty values are left out."""
    shown = [(name, value) for name, value in rows if value]
    height = -(-len(shown) // columns)
    grid: list[list[Any]] = []
    for line in range(height):
        cells: list[Any] = []
        for column in range(columns):
            place = column * height + line
            name, value = shown[place] if place < len(shown) else ("", "")
            cells += [name, para(value, CELL)]
        grid.append(cells)
    share = width / columns
    label = min(30 * mm, share * 0.36)
    table = Table(
        grid or [["", ""] * columns],
        colWidths=[label, share - label] * columns,
        hAlign="LEFT",
        splitInRow=1,
    )
    table.setStyle(
        TableStyle(
            [
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("FONT", (0, 0), (-1, -1), fonts.REGULAR, LABEL.fontSize, CELL.leading),
                ("TEXTCOLOR", (0, 0), (-1, -1), SOFT),
                ("LEFTPADDING", (0, 0), (-1, -1), 0),
                ("RIGHTPADDING", (0, 0), (-1, -1), 6),
                ("TOPPADDING", (0, 0), (-1, -1), 1),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5),
            ]
        )
    )
    return table


def grid(
    columns: Sequence[str],
    rows: Sequence[Sequence[Any]],
    widths: Sequence[float],
    numbers: Sequence[int] = (),
    padding: float = 2.6,
) -> Table:
    """A table whose heading repeats on each page; columns in `numbers` are set to the right."""
    top = [
        para(text, COLUMN_RIGHT if place in numbers else COLUMN)
        for place, text in enumerate(columns)
    ]
    body = [
        [
            cell if place in numbers or isinstance(cell, Flowable | list) else para(cell, CELL)
            for place, cell in enumerate(row)
        ]
        for row in rows
    ]
    table = Table([top, *body], colWidths=list(widths), repeatRows=1, splitInRow=1)
    # Numbers are plain strings: a paragraph each would make long tables slow.
    figures = [
        command
        for place in numbers
        for command in (
            ("ALIGN", (place, 1), (place, -1), "RIGHT"),
            ("FONT", (place, 1), (place, -1), fonts.REGULAR, CELL.fontSize, CELL.leading),
            ("TEXTCOLOR", (place, 1), (place, -1), INK),
        )
    ]
    table.setStyle(
        TableStyle(
            [
                *figures,
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("VALIGN", (0, 0), (-1, 0), "BOTTOM"),
                ("LINEBELOW", (0, 0), (-1, 0), 0.9, SOFT),
                ("LINEBELOW", (0, 1), (-1, -1), 0.4, RULE),
                ("LEFTPADDING", (0, 0), (-1, -1), 3),
                ("RIGHTPADDING", (0, 0), (-1, -1), 4),
                ("TOPPADDING", (0, 0), (-1, -1), padding),
                ("BOTTOMPADDING", (0, 0), (-1, -1), padding),
            ]
        )
    )
    return table


def take_care(texts: Sequence[str], width: float) -> list[Flowable]:
    """Cautions, set apart, with what they give way to."""
    content = [para("Take care", CELL_BOLD), *bullets(texts), para(DEFERRAL, SMALL)]
    return [gap(8), CondPageBreak(60 * mm), boxed(content, width)]


def boxed(content: Sequence[Flowable], width: float) -> Table:
    """Something set apart on a light ground, with a bar of the accent beside it."""
    table = Table([[item] for item in content], colWidths=[width], splitInRow=1)
    table.setStyle(
        TableStyle(
            [
                ("BACKGROUND", (0, 0), (-1, -1), SHADE),
                ("LINEBEFORE", (0, 0), (0, -1), 2.2, ACCENT),
                ("LEFTPADDING", (0, 0), (-1, -1), 9),
                ("RIGHTPADDING", (0, 0), (-1, -1), 8),
                ("TOPPADDING", (0, 0), (-1, -1), 2),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
            ]
        )
    )
    return table


def beside(left: Sequence[Flowable], right: Flowable, width: float, share: float) -> Table:
    """Two blocks beside each other; `right` takes `share` points."""
    table = Table([[list(left), right]], colWidths=[width - share, share])
    table.setStyle(
        TableStyle(
            [
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("ALIGN", (1, 0), (1, 0), "RIGHT"),
                ("LEFTPADDING", (0, 0), (-1, -1), 0),
                ("RIGHTPADDING", (0, 0), (-1, -1), 0),
                ("TOPPADDING", (0, 0), (-1, -1), 0),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
            ]
        )
    )
    return table


def gap(points: float = 6) -> Spacer:
    """White space."""
    return Spacer(1, points)
