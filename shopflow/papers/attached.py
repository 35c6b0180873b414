"""Taking the files out of a paper again."""

from __future__ import annotations

import io

import pikepdf


def attached_files(pdf: bytes) -> dict[str, str]:
    """The text files inside a PDF by name. Raises ValueError where it cannot be read."""
    try:
        with pikepdf.open(io.BytesIO(pdf)) as opened:
            return {
                name: file.get_file().read_bytes().decode("utf-8")
                for name, file in opened.attachments.items()
            }
    except (pikepdf.PdfError, UnicodeDecodeError) as error:
        raise ValueError(f"the files inside cannot be read: {error}") from None
