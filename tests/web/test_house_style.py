"""The house style's page."""

from __future__ import annotations

import io

from PIL import Image
from sqlalchemy.orm import Session

from shopflow.models import Shop
from tests.web.client import Client


def logo() -> tuple[io.BytesIO, str]:
    """A picture to upload."""
    out = io.BytesIO()
    Image.new("RGB", (900, 300), "#22403a").save(out, "JPEG")
    out.seek(0)
    return out, "logo.jpg"


def test_a_style_is_saved_with_its_logo_which_can_go_again(client: Client, shop: Shop):
    page = client.submit("/shop/house-style", {"accent": "#22403a", "logo_file": logo()})
    assert "saved" in page.notices[0]
    assert page.value("accent") == "#22403a"
    shown = client.get("/shop/logo.png")
    assert (shown.mimetype, shown.data[:4]) == ("image/png", b"\x89PNG")
    page = client.submit("/shop/house-style", {"tax_label": "VAT", "logo_file": None})
    assert page.value("tax_label") == "VAT"
    assert client.get("/shop/logo.png").data == shown.data
    client.submit("/shop/house-style", {"no_logo": "y", "logo_file": None})
    client.page("/shop/logo.png", status=404)


def test_a_colour_too_light_and_a_file_that_is_no_picture_are_refused(
    client: Client, db: Session, shop: Shop
):
    page = client.submit(
        "/shop/house-style", {"accent": "#cccccc", "payment_to": "Account 42"}, status=422
    )
    assert "Too light" in page.fault("accent")
    assert page.value("payment_to") == "Account 42"
    page = client.submit(
        "/shop/house-style",
        {"logo_file": (io.BytesIO(b"hello"), "logo.png"), "payment_to": "Account 42"},
        status=422,
    )
    assert "Not a PNG or JPEG" in page.fault("logo_file")
    assert page.value("payment_to") == "Account 42"
    client.page("/shop/logo.png", status=404)
