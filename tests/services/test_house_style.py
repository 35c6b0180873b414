"""The house style: logo, colours, dates, and what money papers say."""

from __future__ import annotations

import io
from collections.abc import Callable

import pytest
from PIL import Image
from sqlalchemy.orm import Session

from shopflow.models import HouseStyle
from shopflow.services.actor import Actor
from shopflow.services.paperwork import facts
from shopflow.services.shop import house_style
from tests import factories
from tests.services.expecting import assert_logged, faults_at


def picture(kind: str, size: tuple[int, int] = (1800, 900), mode: str = "RGB") -> bytes:
    """A picture file with a place in its EXIF data."""
    out = io.BytesIO()
    image = Image.new(mode, size, "#22403a" if mode == "RGB" else (34, 64, 58, 0))
    exif = Image.Exif()
    exif[0x0110] = "a camera"
    image.save(out, kind, exif=exif)
    return out.getvalue()


def test_papers_have_their_defaults_before_anything_is_set(db: Session):
    factories.create_shop(db)
    style = house_style.the_style(db)
    assert db.get(HouseStyle, 1) is None
    assert facts.letterhead(db).accent == style.accent == "#0f4c75"
    assert facts.display(db).date_format == "iso"


def test_a_change_is_kept_logged_and_printed(db: Session, by: Actor):
    factories.create_shop(db, currency="EUR")
    style = house_style.the_style(db)
    house_style.change(db, by, style, {"accent": "#22403A", "date_format": "de"})
    assert db.get(HouseStyle, 1) is style
    assert facts.letterhead(db).accent == "#22403a"
    display = facts.display(db)
    assert (display.date_format, display.currency) == ("de", "EUR")
    assert_logged(db, style, by, "changed", accent=["#0f4c75", "#22403a"])


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("accent", "#949494"),
        ("accent", "blue"),
        ("second", "#b0b0b0"),
        ("second", ""),
        ("date_format", "us"),
        ("label_size", "10x10"),
        ("label_name", "nickname"),
        ("tax_label", " "),
        ("payment_days", "-1"),
        ("quote_days", "0"),
        ("payment_to", "x" * 2001),
    ],
)
def test_what_cannot_be_is_refused_at_its_field(
    sqlite_db: Session, by: Actor, field: str, value: str
):
    with faults_at(field):
        house_style.change(sqlite_db, by, house_style.the_style(sqlite_db), {field: value})


@pytest.mark.parametrize(("kind", "mode"), [("PNG", "RGB"), ("PNG", "RGBA"), ("JPEG", "RGB")])
def test_a_logo_is_made_small_and_plain(db: Session, by: Actor, kind: str, mode: str):
    logo = house_style.picture(picture(kind, mode=mode))
    style = house_style.set_logo(db, by, house_style.the_style(db), logo)
    with Image.open(io.BytesIO(style.logo)) as stored:
        assert (stored.format, stored.mode, stored.size) == ("PNG", "RGB", (680, 340))
        assert not stored.getexif()
        assert stored.getpixel((9, 9)) == pytest.approx(
            (255, 255, 255) if mode == "RGBA" else (34, 64, 58), abs=4
        )
    house_style.set_logo(db, by, style, b"")
    assert style.logo == b""


@pytest.mark.parametrize(
    "content",
    [
        lambda: b"not a picture",
        lambda: b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        lambda: picture("PNG")[:300],
        lambda: picture("GIF"),
        lambda: picture("PNG") + b"0" * house_style.LARGEST_UPLOAD,
        lambda: picture("PNG", (9000, 6000)),
    ],
    ids=["text", "svg", "cut off", "gif", "large file", "many pixels"],
)
def test_what_is_no_logo_is_refused(content: Callable[[], bytes]):
    with faults_at("logo_file"):
        house_style.picture(content())
