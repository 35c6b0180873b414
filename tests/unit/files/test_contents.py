"""Type of an uploaded file, and the contents stored of it."""

from __future__ import annotations

import io

import pytest
from PIL import Image
from reportlab.pdfgen.canvas import Canvas

from shopflow.confined.limits import LONG_SIDE, SMALL_SIDE
from shopflow.files import LARGEST_FILE, UnfitFileError, read
from shopflow.files.contents import JPEG, PDF, PNG, TEXT, WEBP, fitting_name
from shopflow.files.scans import STL
from tests import photos


def a_pdf() -> bytes:
    written = io.BytesIO()
    canvas = Canvas(written)
    canvas.drawString(72, 720, "a paper")
    canvas.save()
    return written.getvalue()


def red_and_blue(picture: Image.Image, place: tuple[int, int]) -> tuple[bool, bool]:
    red, _, blue = photos.colours(picture.convert("RGB"), place)
    return red > 180, blue > 180


def test_a_photo_taken_sideways_is_turned_upright():
    """EXIF 2.3: orientation 6 is shown turned clockwise, so left becomes top."""
    answer = read(photos.from_a_telephone(60, 40))
    assert (answer.width, answer.height) == (40, 60)
    upright = photos.opened(answer.content)
    assert upright.size == (40, 60)
    assert red_and_blue(upright, (20, 10)) == (True, False)
    assert red_and_blue(upright, (20, 50)) == (False, True)


def test_nothing_but_pixels_is_kept_of_a_photo():
    values = photos.from_a_telephone()
    before = photos.opened(values)
    assert before.getexif().get_ifd(0x8825)
    assert b"the secret words" in values
    answer = read(values)
    for stored in (answer.content, answer.small):
        after = photos.opened_jpeg(stored)
        assert not after.getexif()
        # JFIF (ITU-T T.871) is the only application segment left.
        assert {name for name, _ in after.applist} == {"APP0"}
        assert set(after.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density", "dpi"}
        for telling in (b"secret", b"Invented", b"Exif", b"2026:03:05"):
            assert telling not in stored


def test_a_large_photo_is_shrunk_and_a_small_one_left_its_size():
    answer = read(photos.jpeg(4000, 3000))
    assert (answer.width, answer.height) == (LONG_SIDE, 1500)
    assert photos.opened(answer.small).size == (SMALL_SIDE, 360)
    assert (read(photos.jpeg(60, 40)).width, read(photos.jpeg(60, 40)).height) == (60, 40)


@pytest.mark.parametrize(
    ("kind", "mode"),
    [
        *(("JPEG", mode) for mode in ("RGB", "L", "CMYK")),
        *(("PNG", mode) for mode in ("RGB", "L", "RGBA", "P", "1", "I;16")),
        *(("WEBP", mode) for mode in ("RGB", "RGBA")),
    ],
)
def test_every_kind_of_photo_becomes_a_jpeg(kind, mode):
    answer = read(photos.encoded(photos.picture().convert(mode), kind))
    assert answer.media_type == "image/jpeg"
    assert photos.opened(answer.content).format == "JPEG"


def test_what_is_transparent_becomes_white():
    clear = Image.new("RGBA", (20, 20), (0, 0, 0, 0))
    answer = read(photos.encoded(clear, "PNG"))
    assert min(photos.colours(photos.opened(answer.content), (10, 10))) > 250


def test_the_same_photo_gives_the_same_bytes():
    assert read(photos.jpeg()).content == read(photos.jpeg()).content


@pytest.mark.parametrize("side", [9_000, 60_000, 2**31 - 1])
def test_a_few_bytes_that_claim_a_giant_picture_are_refused(side):
    with pytest.raises(UnfitFileError, match="more than 25 million pixels"):
        read(photos.png_that_claims(side, side))


def test_a_photo_cut_off_on_its_way_is_refused():
    total = photos.encoded(photos.picture(800, 600))
    for end in (10, 200, len(total) // 2):
        with pytest.raises(UnfitFileError, match="cut off"):
            read(total[:end])


def test_a_picture_in_name_only_is_refused():
    with pytest.raises(UnfitFileError, match="cannot be read as a picture"):
        read(b"\xff\xd8\xff" + b"not a picture" * 50)


@pytest.mark.parametrize("brand", [b"heic", b"mif1", b"avif"])
def test_heic_is_refused_with_what_to_do(brand):
    """The ftyp box as ISO/IEC 14496-12, 4.3 lays it out."""
    with pytest.raises(UnfitFileError, match=r"HEIC.*most compatible format \(JPEG\)"):
        read(b"\0\0\0\x18ftyp" + brand + b"\0\0\0\0mif1" + b"\0" * 400)


def test_a_pdf_and_plain_text_are_kept_byte_for_byte():
    paper, words = a_pdf(), "Größe 44 mm\r\nNº 2\tfit\n".encode()
    assert (read(paper).media_type, read(paper).content) == ("application/pdf", paper)
    assert (read(words).media_type, read(words).content) == ("text/plain", words)
    assert not read(paper).is_picture


def test_a_pdf_cut_off_on_its_way_is_refused():
    with pytest.raises(UnfitFileError, match="cut off"):
        read(a_pdf()[:-400])


@pytest.mark.parametrize(
    "given",
    [
        pytest.param(b"GIF89a" + b"\x01\0" * 40, id="GIF"),
        pytest.param(b"PK\x03\x04" + b"\0" * 40, id="ZIP"),
        pytest.param(b"MZ\x90\0" + b"\0" * 40, id="program"),
        pytest.param("é".encode("latin-1") * 20, id="text in another encoding"),
        pytest.param(b"\x1b[2Jtext that moves a terminal", id="control characters"),
        pytest.param("words".encode("utf-16"), id="UTF-16"),
    ],
)
def test_what_is_none_of_the_kinds_kept_is_refused(given):
    with pytest.raises(UnfitFileError, match="JPEG, PNG or WebP"):
        read(given)


def test_an_empty_and_a_too_large_file_are_refused():
    with pytest.raises(UnfitFileError, match="empty"):
        read(b"")
    assert LARGEST_FILE == 25 * 2**20
    with pytest.raises(UnfitFileError, match="larger than 25 MB"):
        read(b"x" * (LARGEST_FILE + 1))


@pytest.mark.parametrize(
    ("name", "media_type", "expected"),
    [
        ("intake.pdf", PDF, "intake.pdf"),
        ("intake.PDF", PDF, "intake.PDF"),
        ("intake.exe", PDF, "intake.exe.pdf"),
        ("intake.html", TEXT, "intake.html.txt"),
        ("readings.csv", TEXT, "readings.csv"),
        ("IMG_1.HEIC", JPEG, "IMG_1.HEIC.jpg"),
        ("IMG_1.jpeg", JPEG, "IMG_1.jpeg"),
        ("IMG_1.jpg", PNG, "IMG_1.jpg.png"),
        ("IMG_1", WEBP, "IMG_1.webp"),
        ("port.ply", STL, "port.ply.stl"),
        ("of a kind no longer taken.xyz", "", "of a kind no longer taken.xyz"),
    ],
)
def test_the_name_of_a_download_follows_its_content(name: str, media_type: str, expected: str):
    assert fitting_name(name, media_type) == expected
