"""Type and contents of an uploaded file, decided by its bytes; its name and sender are not
believed."""

from __future__ import annotations

from dataclasses import dataclass

from shopflow.errors import ShopflowError
from shopflow.files import pictures, scans
from shopflow.texts import gettext, lazy

LARGEST_FILE = 25 * 1024 * 1024
"""Bytes; a telephone's largest photo fits."""

JPEG, PDF, TEXT = "image/jpeg", "application/pdf", "text/plain"

PNG, WEBP = "image/png", "image/webp"

ENDINGS = {
    JPEG: (".jpg", ".jpeg"),
    PNG: (".png",),
    WEBP: (".webp",),
    PDF: (".pdf",),
    TEXT: (".txt", ".csv", ".toml", ".log", ".md"),
    scans.STL: (".stl",),
    scans.PLY: (".ply",),
}
"""Endings that the name of a file may have by its type; the first is the usual."""

_HEIF_BRANDS = {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1", b"avif"}
"""Brands of the ftyp box, ISO/IEC 23008-12 annex B; the last is AV1's."""

HEIC_ADVICE = lazy(
    "is an HEIC or AVIF picture, which cannot be read here: set the camera to its most compatible "
    "format (JPEG), or send the photo as JPEG"
)
KEPT = lazy(
    "this kind of file cannot be added: choose a JPEG, PNG or WebP photo, a PDF, plain text or a "
    "scan (STL or PLY)"
)


class UnfitFileError(ShopflowError):
    """An uploaded file cannot be kept; the words say why and what to do."""


@dataclass(frozen=True, slots=True)
class Contents:
    """A file as it is kept: a picture encoded again, upright, without its other contents."""

    media_type: str
    content: bytes
    original: bytes = b""
    """A picture as it came, with what its camera wrote into it; empty for what is no picture."""

    small: bytes = b""
    """A picture small enough for a list; empty for what is no picture."""

    width: int = 0
    height: int = 0
    """Pixels; 0 for what is no picture."""

    @property
    def is_picture(self) -> bool:
        """True where it can be shown as a picture."""
        return self.media_type == JPEG


def read(content: bytes) -> Contents:
    """Check an upload and prepare it for storage. Raises UnfitFileError."""
    if not content:
        raise UnfitFileError(gettext("is empty, or was cut off on its way: send it again"))
    if len(content) > LARGEST_FILE:
        raise UnfitFileError(
            gettext("is larger than {largest_file} MB", largest_file=LARGEST_FILE // 2**20)
        )
    if content[4:8] == b"ftyp" and content[8:12] in _HEIF_BRANDS:
        raise UnfitFileError(HEIC_ADVICE)
    if picture_type(content):
        return _picture(content)
    if content.startswith(b"%PDF-"):
        return _pdf(content)
    scan = scans.media_type(content)
    if scan:
        return Contents(scan, content)
    if _is_text(content):
        return Contents(TEXT, content)
    raise UnfitFileError(KEPT)


def picture_type(content: bytes) -> str:
    """Media type of a picture by its first bytes; empty for what is none that can be read."""
    if content.startswith(b"\xff\xd8\xff"):
        return JPEG
    if content.startswith(b"\x89PNG\r\n\x1a\n"):
        return PNG
    return WEBP if content[:4] == b"RIFF" and content[8:12] == b"WEBP" else ""


def fitting_name(name: str, media_type: str) -> str:
    """A name whose ending is of the file's type: whoever opens it gets what the bytes are.

    >>> fitting_name("intake.PDF", PDF), fitting_name("intake.html", TEXT)
    ('intake.PDF', 'intake.html.txt')
    """
    endings = ENDINGS.get(media_type, ("",))
    return name if name.lower().endswith(endings) else f"{name}{endings[0]}"


def _picture(content: bytes) -> Contents:
    try:
        picture = pictures.fit(content)
    except pictures.UnreadableError as error:
        raise UnfitFileError(str(error)) from None
    return Contents(JPEG, picture.full, content, picture.small, picture.width, picture.height)


def _pdf(content: bytes) -> Contents:
    # ISO 32000-1, 7.5.5: the last line is the end mark; some writers let a few bytes follow.
    if b"%%EOF" not in content[-2048:]:
        raise UnfitFileError(gettext("is a PDF without its end, cut off on its way: send it again"))
    return Contents(PDF, content)


def _is_text(content: bytes) -> bool:
    try:
        words = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return False
    return all(letter.isprintable() or letter in "\t\r\n\f" for letter in words)
