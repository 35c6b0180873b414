"""Photos made fit to keep: upright, of a reasonable size, and without where they were taken."""

from __future__ import annotations

import io
import struct
import threading
import zlib
from dataclasses import dataclass

from PIL import Image, ImageOps

from shopflow.texts import gettext

LONG_SIDE = 2000
SMALL_SIDE = 480
"""Pixels of the longer side of a photo as kept, and of its small form."""

MOST_PIXELS = 60_000_000
"""Largest photo by its own claim; a few kilobytes can claim thousands of millions."""

FORMATS = ("JPEG", "PNG", "WEBP")
_BROKEN = (OSError, ValueError, SyntaxError, EOFError, struct.error, zlib.error)
"""Errors that Pillow's readers raise on an incomplete file."""

_one_at_a_time = threading.Lock()
"""A photo takes up to 4 bytes a pixel while it is worked on: several at once would fill the memory
of a small machine."""


class UnreadableError(Exception):
    """The picture cannot be read, or is too large; the words say which."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A photo as kept and its small form, both JPEG; width and height in pixels of the former."""

    full: bytes
    small: bytes
    width: int
    height: int


def fit(content: bytes) -> Picture:
    """Turn a photo upright by its EXIF orientation, shrink it and encode it again.

    Nothing but the pixels is carried over: no EXIF, place, comment, profile or embedded preview.
    Colours are taken for sRGB; what is transparent becomes white. Raises UnreadableError.
    """
    with _one_at_a_time:
        try:
            upright = _upright(content)
        except Image.DecompressionBombError:
            raise UnreadableError(_too_large()) from None
        except _BROKEN:
            message = gettext(
                "cannot be read as a picture, or was cut off on its way: send it again"
            )
            raise UnreadableError(message) from None
        small = upright.copy()
        small.thumbnail((SMALL_SIDE, SMALL_SIDE))
        return Picture(_jpeg(upright, 85), _jpeg(small, 80), upright.width, upright.height)


def _upright(content: bytes) -> Image.Image:
    """The pixels alone, at most LONG_SIDE long."""
    with Image.open(io.BytesIO(content), formats=FORMATS) as picture:
        if picture.width * picture.height > MOST_PIXELS:
            raise Image.DecompressionBombError
        # A JPEG is decoded at a half, a quarter or an eighth where that is large enough.
        picture.draft("RGB", (LONG_SIDE, LONG_SIDE))
        turned = ImageOps.exif_transpose(picture)
        turned.thumbnail((LONG_SIDE, LONG_SIDE))
        if turned.has_transparency_data:
            turned = turned.convert("RGBA")
        plain = Image.new("RGB", turned.size, "white")
        plain.paste(turned.convert("RGB"), mask=_mask(turned))
    return plain


def _mask(picture: Image.Image) -> Image.Image | None:
    return picture.getchannel("A") if picture.mode == "RGBA" else None


def _jpeg(picture: Image.Image, quality: int) -> bytes:
    written = io.BytesIO()
    picture.save(written, "JPEG", quality=quality, optimize=True)
    return written.getvalue()


def _too_large() -> str:
    return gettext(
        "has more than {most} million pixels: send it smaller", most=MOST_PIXELS // 10**6
    )
