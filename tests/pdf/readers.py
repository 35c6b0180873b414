"""Readers of PDF that share no code with what writes the papers, nor with each other."""

from __future__ import annotations

import io
from collections.abc import Callable

import pikepdf
import pymupdf
import pypdfium2
from PIL import Image


def warnings_of_readers(content: bytes) -> list[str]:
    """Everything QPDF, MuPDF and PDFium object to when they read, rewrite and draw a file."""
    return [warning for read in READERS.values() for warning in read(content)]


def rendered(content: bytes, dpi: int, *, grey: bool = False) -> list[Image.Image]:
    """Each page as PDFium draws it."""
    with pypdfium2.PdfDocument(content) as pdf:
        return [page.render(scale=dpi / 72, grayscale=grey).to_pil() for page in pdf]


def _qpdf(content: bytes) -> list[str]:
    try:
        pdf = pikepdf.open(io.BytesIO(content))
    except pikepdf.PdfError as error:
        return [str(error)]
    with pdf:
        return [*pdf.check_pdf_syntax(), *map(str, pdf.get_warnings())]


def _mupdf(content: bytes) -> list[str]:
    pymupdf.TOOLS.reset_mupdf_warnings()
    try:
        pdf = pymupdf.open(stream=content)
    except pymupdf.FileDataError as error:
        return [str(error)]
    with pdf:
        repaired = ["MuPDF had to repair it"] if pdf.is_repaired else []
        if not pdf.page_count:
            # It refuses to write such a file: half a file may have lost every page.
            return [*repaired, "MuPDF found no page"]
        pdf.tobytes(clean=True)
        for page in pdf:
            page.get_pixmap(dpi=20)
    warnings: str = pymupdf.TOOLS.mupdf_warnings()
    return [*repaired, *warnings.splitlines()]


def _pdfium(content: bytes) -> list[str]:
    try:
        rendered(content, dpi=20)
    except pypdfium2.PdfiumError as error:
        return [str(error)]
    return []


READERS: dict[str, Callable[[bytes], list[str]]] = {
    "QPDF": _qpdf,
    "MuPDF": _mupdf,
    "PDFium": _pdfium,
}
"""Readers of PDF, each with its objections to a file."""
