"""Taking the files out of a paper again."""

from __future__ import annotations

import io
import zlib

import pikepdf

from shopflow.texts import gettext

LARGEST = 4 * 1024 * 1024
"""Bytes of all files of a paper together; a few kilobytes can be packed to claim thousands of
millions."""

MOST_FILES = 1000


def attached_files(pdf: bytes) -> dict[str, str]:
    """The text files inside a PDF by name. Raises ValueError where it cannot be read."""
    files: dict[str, str] = {}
    room = LARGEST
    try:
        with pikepdf.open(io.BytesIO(pdf)) as opened:
            if len(opened.attachments) > MOST_FILES:
                raise ValueError(
                    gettext("there are more than {most_files} files inside", most_files=MOST_FILES)
                )
            for name, file in opened.attachments.items():
                content = _unpacked(file.get_file().obj, room)
                room -= len(content)
                files[name] = content.decode("utf-8")
    except (pikepdf.PdfError, UnicodeDecodeError, zlib.error) as error:
        raise ValueError(gettext("the files inside cannot be read: {error}", error=error)) from None
    return files


def _unpacked(stream: pikepdf.Object, room: int) -> bytes:
    """A stream's bytes, of which no more than there is room for are ever unpacked."""
    packed = stream.read_raw_bytes()
    match str(stream.get("/Filter", "")):
        case "":
            content = packed[: room + 1]
        case "/FlateDecode":
            content = zlib.decompressobj().decompress(packed, room + 1)
        case other:
            raise ValueError(
                gettext("a file inside is packed in a way unknown here: {other}", other=other[:40])
            )
    if len(content) > room:
        raise ValueError(
            gettext("the files inside are larger than {largest} MB", largest=LARGEST // 2**20)
        )
    return content
