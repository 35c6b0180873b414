"""The typeface of the pages as WOFF2 (W3C Recommendation), a fifth of the files it is made of.

Characters and hints are all there; of the letters' other forms only what pages ask for.
"""

from __future__ import annotations

from functools import cache
from io import BytesIO
from pathlib import Path

from shopflow.fonts import files
from shopflow.web.kept_files import KeptFiles

STYLES = ("It", "Regular", "Semibold", "Bold")
FORMS = ("tnum",)
"""OpenType features beside those that every text takes: figures of one width, in tables."""

KEPT = KeptFiles(Path(__file__).parent / "__pycache__" / "typefaces")


@cache
def woff2(style: str) -> bytes:
    """A style of `STYLES`. Raises ShopflowError where its file is not as it should be."""
    file = f"SourceSansPro-{style}.ttf"
    path = files.path(file)
    name = f"{files.sums()[file][:16]}-{'-'.join(FORMS)}.woff2"
    content = KEPT.get(name)
    if content is None:
        content = _packed(path)
        KEPT.put(name, content)
    return content


def _packed(path: Path) -> bytes:
    # Loaded where a typeface is packed for the first time, which is seldom.
    from fontTools import subset

    options = subset.Options()
    options.flavor = "woff2"
    options.layout_features = [*options.layout_features, *FORMS]
    font = subset.load_font(str(path), options)
    every = subset.Subsetter(options)
    every.populate(unicodes=font.getBestCmap())
    every.subset(font)
    packed = BytesIO()
    subset.save_font(font, packed, options)
    return packed.getvalue()
