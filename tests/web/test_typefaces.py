"""The typeface of the pages: packed small, whole, and a first load that is small with it.

fontTools, which reads the files back, is an independent reader of WOFF2 and OpenType.
"""

from __future__ import annotations

import re
from io import BytesIO

import pytest
from fontTools.ttLib import TTFont

from shopflow.fonts import files
from shopflow.web import typefaces
from tests.web.client import Client

FIRST_LOAD = 250_000
"""Bytes, of the page that people come to first."""


def features(font: TTFont) -> set[str]:
    return {row.FeatureTag for row in font["GSUB"].table.FeatureList.FeatureRecord}


@pytest.mark.parametrize("style", typefaces.STYLES)
def test_it_has_all_characters_hints_and_figures_of_one_width(client: Client, style: str) -> None:
    file = files.path(f"SourceSansPro-{style}.ttf")
    content = client.get(f"/fonts/{style}.woff2").data
    packed, whole = TTFont(BytesIO(content)), TTFont(file)
    assert packed.flavor == "woff2"
    assert packed.getBestCmap().keys() == whole.getBestCmap().keys()
    assert {"fpgm", "prep"} & set(whole.keys()) <= set(packed.keys())
    assert {"tnum", "ccmp", "frac"} & features(whole) <= features(packed)
    assert len(content) < file.stat().st_size / 3


def test_the_first_load_is_small(client: Client) -> None:
    page = client.page("/").text
    addresses = set(re.findall(r'(?:href|src)="(/static/[^"]+)"', page))
    scripts = {address: client.get(address).text for address in addresses if ".js" in address}
    for text in list(scripts.values()):
        for name in re.findall(r'from "\./([\w-]+\.js)"', text):
            scripts[name] = client.get(f"/static/js/{name}").text
    others = [client.get(address).data for address in addresses - scripts.keys()]
    weights = [client.get(f"/fonts/{name}.woff2").data for name in ("Regular", "Semibold", "Bold")]
    texts = [text.encode() for text in (page, *scripts.values())]
    assert sum(map(len, [*texts, *others, *weights])) < FIRST_LOAD
