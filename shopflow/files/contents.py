"""What an uploaded file is, told by its content; its name and its sender are not believed."""

from __future__ import annotations

from dataclasses import dataclass

from shopflow.errors import ShopflowError
from shopflow.files import pictures
from shopflow.texts import gettext, lazy

LARGEST_FILE = 25 * 1024 * 1024
"""Bytes; a telephone's largest photo fits."""

JPEG, PDF, TEXT = "image/jpeg", "application/pdf", "text/plain"

_PICTURES = (b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n")
_HEIF_BRANDS = {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1", b"avif"}
"""Brands of the ftyp box, ISO/IEC 23008-12 annex B; the last is AV1's."""

HEIC_ADVICE = lazy(
    "is an HEIC or AVIF picture, which cannot be read here: set the camera to its most compatible "
    "format (JPEG), or send the photo as JPEG"
)
KEPT = lazy(
    "this kind of file cannot be added: choose a JPEG, PNG or WebP photo, a PDF or plain text"
)


class UnfitFileError(ShopflowError):
    """An uploaded file cannot be kept; the words say why and what to do."""


@dataclass(frozen=True, slots=True)
class Contents:
    """A file as it is kept: a picture encoded anew, upright, without what came along with it."""

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
        """Whether it can be shown as a picture."""
        return self.media_type == JPEG


def read(given: bytes) -> Contents:
    """What was uploaded, made fit to be kept. Raises UnfitFileError."""
    if not given:
        raise UnfitFileError(gettext("is empty, or was cut off on its way: send it again"))
    if len(given) > LARGEST_FILE:
        raise UnfitFileError(
            gettext("is larger than {largest_file} MB", largest_file=LARGEST_FILE // 2**20)
        )
    if given[4:8] == b"ftyp" and given[8:12] in _HEIF_BRANDS:
        raise UnfitFileError(HEIC_ADVICE)
    if given.startswith(_PICTURES) or (given[:4] == b"RIFF" and given[8:12] == b"WEBP"):
        return _picture(given)
    if given.startswith(b"%PDF-"):
        return _pdf(given)
    if _is_text(given):
        return Contents(TEXT, given)
    raise UnfitFileError(KEPT)


def _picture(given: bytes) -> Contents:
    try:
        found = pictures.fit(given)
    except pictures.UnreadableError as error:
        raise UnfitFileError(str(error)) from None
    return Contents(JPEG, found.full, given, found.small, found.width, found.height)


def _pdf(given: bytes) -> Contents:
    # ISO 32000-1, 7.5.5: the last line is the end mark; some writers let a few bytes follow.
    if b"%%EOF" not in given[-2048:]:
        raise UnfitFileError(gettext("is a PDF without its end, cut off on its way: send it again"))
    return Contents(PDF, given)


def _is_text(given: bytes) -> bool:
    try:
        words = given.decode("utf-8-sig")
    except UnicodeDecodeError:
        return False
    return all(letter.isprintable() or letter in "\t\r\n\f" for letter in words)
