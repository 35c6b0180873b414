"""The program that turns a picture of other people's making into plain pixels, encoded anew.

It imports little, since it is started for each picture. `shopflow.files.pictures` calls it.
"""

from __future__ import annotations

import io
import json
import struct
import sys
import warnings
import zlib

from PIL import Image, ImageOps, UnidentifiedImageError

from shopflow.confined import confine
from shopflow.confined.limits import (
    BROKEN,
    LARGE,
    LONG_SIDE,
    MEMORY,
    MOST_PIXELS,
    SECONDS,
    SMALL_SIDE,
    UNKNOWN,
)

LOGO = (840, 340)
"""Pixels a logo is kept in at most: 500 to the inch where papers print it."""

_FORMATS = {"photo": ("JPEG", "PNG", "WEBP"), "logo": ("PNG", "JPEG")}
_BROKEN = (OSError, ValueError, SyntaxError, EOFError, struct.error, zlib.error)
"""Errors that Pillow's readers raise on an incomplete file."""


def photo(content: bytes) -> tuple[tuple[int, int], list[bytes]]:
    """Size of a photo as kept, upright by its EXIF orientation, and its two forms as JPEG.

    Nothing but the pixels is carried over: no EXIF, place, comment, profile or embedded preview.
    Colours are taken for sRGB; what is transparent becomes white.
    """
    full = _on_white(_shrunk(content, "photo", (LONG_SIDE, LONG_SIDE)))
    small = full.copy()
    small.thumbnail((SMALL_SIDE, SMALL_SIDE))
    return full.size, [_encoded(full, quality=85), _encoded(small, quality=80)]


def logo(content: bytes) -> tuple[tuple[int, int], list[bytes]]:
    """Size of a logo as kept, on white, and the logo as PNG."""
    plain = _on_white(_shrunk(content, "logo", LOGO))
    written = io.BytesIO()
    plain.save(written, "PNG", optimize=True)
    return plain.size, [written.getvalue()]


def _shrunk(content: bytes, kind: str, most: tuple[int, int]) -> Image.Image:
    """A picture upright and at most so large. Raises DecompressionBombError."""
    with Image.open(io.BytesIO(content), formats=_FORMATS[kind]) as picture:
        if picture.width * picture.height > MOST_PIXELS:
            raise Image.DecompressionBombError
        if kind == "photo":
            # A JPEG is decoded at a half, a quarter or an eighth where that is large enough.
            picture.draft("RGB", most)
        # Colours of a palette cannot be mixed, as shrinking does.
        plain = picture.convert("RGBA") if picture.mode in ("P", "PA", "1") else picture
        # Shrinking first takes the least memory; a square does not mind which way up it is.
        plain.thumbnail((max(most), max(most)))
        upright = ImageOps.exif_transpose(plain)
    upright.thumbnail(most)
    return upright


def _on_white(picture: Image.Image) -> Image.Image:
    if picture.has_transparency_data:
        picture = picture.convert("RGBA")
    plain = Image.new("RGB", picture.size, "white")
    mask = picture.getchannel("A") if picture.mode == "RGBA" else None
    plain.paste(picture.convert("RGB"), mask=mask)
    return plain


def _encoded(picture: Image.Image, quality: int) -> bytes:
    written = io.BytesIO()
    picture.save(written, "JPEG", quality=quality, optimize=True)
    return written.getvalue()


def main() -> None:
    """Read a picture from standard input; write a line of JSON and the bytes of its forms."""
    confine(MEMORY, SECONDS)
    # Pillow warns of what it takes for a bomb, from here on; to us it is one.
    Image.MAX_IMAGE_PIXELS = MOST_PIXELS
    warnings.simplefilter("error", Image.DecompressionBombWarning)
    work = {"photo": photo, "logo": logo}[sys.argv[1]]
    forms: list[bytes] = []
    try:
        (width, height), forms = work(sys.stdin.buffer.read())
        outcome = {"width": width, "height": height, "lengths": [len(form) for form in forms]}
    except (Image.DecompressionBombError, Image.DecompressionBombWarning, MemoryError):
        outcome = {"fault": LARGE}
    except UnidentifiedImageError:
        outcome = {"fault": UNKNOWN}
    except _BROKEN:
        outcome = {"fault": BROKEN}
    sys.stdout.buffer.write(b"".join((json.dumps(outcome).encode(), b"\n", *forms)))


if __name__ == "__main__":
    main()
