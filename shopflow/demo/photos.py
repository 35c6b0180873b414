"""Drawings in place of photos, plainly made up: what one might see of a head, as flat shapes."""

from __future__ import annotations

import io
import random

from PIL import Image, ImageDraw, ImageFont

from shopflow import fonts
from shopflow.fonts import files

CHAMBER, PORT, DECK = "chamber", "port", "deck"
SIZE = (1200, 900)
METAL, EDGE, DARK, CARBON = "#b9bcc0", "#8b9097", "#3b3f45", "#5d5148"


def draw(scene: str, tag: str) -> bytes:
    """One scene as a JPEG file, with the tag on it; the same tag gives the same picture."""
    chance = random.Random(f"{scene} {tag}")
    picture = Image.new("RGB", SIZE, METAL)
    pen = ImageDraw.Draw(picture)
    for _ in range(400):
        x, y = chance.randrange(SIZE[0]), chance.randrange(SIZE[1])
        pen.line(
            (x, y, x + chance.randrange(20, 90), y), fill=chance.choice(("#b2b5ba", "#c3c6ca"))
        )
    {CHAMBER: _chamber, PORT: _port, DECK: _deck}[scene](pen, chance)
    face = ImageFont.truetype(str(files.path(fonts.FILES[fonts.BOLD])), 40)
    pen.rectangle((0, 830, SIZE[0], SIZE[1]), fill="#ffffff")
    pen.text((30, 840), f"{tag}: a drawing, not a photo", font=face, fill=DARK)
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=85)
    return out.getvalue()


def _disc(pen: ImageDraw.ImageDraw, x: int, y: int, radius: int, fill: str) -> None:
    pen.ellipse((x - radius, y - radius, x + radius, y + radius), fill=fill, outline=EDGE, width=6)


def _chamber(pen: ImageDraw.ImageDraw, chance: random.Random) -> None:
    pen.ellipse((200, 60, 1000, 800), fill="#9a9da2", outline=EDGE, width=8)
    _disc(pen, 450, 430, 190, chance.choice((CARBON, "#6b6057")))
    _disc(pen, 770, 430, 150, chance.choice((DARK, CARBON)))
    _disc(pen, 610, 190, 45, "#d8d2c4")


def _port(pen: ImageDraw.ImageDraw, chance: random.Random) -> None:
    for radius, fill in ((380, EDGE), (340, "#a5a8ad"), (270, "#7c8087"), (190, DARK)):
        _disc(pen, 600 + chance.randrange(-8, 8), 420, radius, fill)
    pen.rectangle((575, 60, 625, 420), fill="#cfd2d6", outline=EDGE, width=4)


def _deck(pen: ImageDraw.ImageDraw, chance: random.Random) -> None:
    for x in (200, 600, 1000):
        _disc(pen, x, 420, 150, "#9a9da2")
    for x in (60, 400, 800, 1140):
        _disc(pen, x, 160, 30, DARK)
        _disc(pen, x, 680, 30, DARK)
    x, y = 700, 300
    for _ in range(6):
        onward = (x + chance.randrange(8, 24), y + chance.randrange(-18, 30))
        pen.line((x, y, *onward), fill="#b03a2e", width=4)
        x, y = onward
