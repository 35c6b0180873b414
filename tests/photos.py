"""Photos as cameras make them, written with Pillow."""

from __future__ import annotations

import io
import struct
import zlib
from typing import Any

from PIL import Image
from PIL.ExifTags import GPS, IFD, Base
from PIL.JpegImagePlugin import JpegImageFile

ORIENTATION_ON_ITS_SIDE = 6
"""EXIF 2.3, tag 274: row 0 is the right side, so the picture is shown turned clockwise."""


def picture(width: int = 60, height: int = 40, *, mode: str = "RGB") -> Image.Image:
    """A picture whose left half is red and whose right half is blue."""
    row = Image.new(mode, (width, height), "red")
    row.paste("blue", (width // 2, 0, width, height))
    return row


def encoded(image: Image.Image, kind: str = "JPEG", **options: Any) -> bytes:
    """A picture as a file."""
    written = io.BytesIO()
    image.save(written, kind, **options)
    return written.getvalue()


def jpeg(width: int = 60, height: int = 40) -> bytes:
    """A plain photo."""
    return encoded(picture(width, height))


def from_a_telephone(width: int = 60, height: int = 40) -> bytes:
    """A photo held on its side, that tells where, when and with what it was taken."""
    exif = Image.Exif()
    exif[Base.Orientation] = ORIENTATION_ON_ITS_SIDE
    exif[Base.Make] = "Invented Optics"
    exif[Base.DateTime] = "2026:03:05 09:30:00"
    exif[Base.ImageDescription] = "the secret words"
    place = exif.get_ifd(IFD.GPSInfo)
    place[GPS.GPSLatitudeRef], place[GPS.GPSLatitude] = "N", (31.0, 41.0, 59.0)
    place[GPS.GPSLongitudeRef], place[GPS.GPSLongitude] = "W", (96.0, 22.0, 11.0)
    xmp = b"<x:xmpmeta><rdf:Description secret:Words='the secret words'/></x:xmpmeta>"
    return encoded(
        picture(width, height), exif=exif, comment=b"the secret words", xmp=xmp, quality=95
    )


def opened(content: bytes) -> Image.Image:
    """A file as a picture, read whole."""
    answer = Image.open(io.BytesIO(content))
    answer.load()
    return answer


def opened_jpeg(content: bytes) -> JpegImageFile:
    """A JPEG file, read whole."""
    answer = opened(content)
    assert isinstance(answer, JpegImageFile), f"the file is {answer.format}, not JPEG"
    return answer


def colours(picture: Image.Image, place: tuple[int, int]) -> tuple[int, ...]:
    """The channels of a pixel of a coloured picture."""
    pixel = picture.getpixel(place)
    assert isinstance(pixel, tuple), f"a picture of mode {picture.mode} has one channel"
    return pixel


def png_that_claims(width: int, height: int) -> bytes:
    """A few dozen bytes of PNG whose header claims this many pixels (ISO/IEC 15948, 11.2.2)."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        checked = kind + body
        return struct.pack(">I", len(body)) + checked + struct.pack(">I", zlib.crc32(checked))

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    pixels = zlib.compress(b"\0" * 1000)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", pixels) + chunk(b"IEND", b"")
    )
