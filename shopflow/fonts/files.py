"""Files of the typefaces, found in their packages without importing those, each checked once."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from functools import cache
from importlib.util import find_spec
from pathlib import Path

from shopflow.errors import ShopflowError
from shopflow.texts import gettext

LATIN = "font_source_sans_pro"
SCRIPTS = "manimgx_fonts"
HAN = "manimgx_fonts_cjk"


@cache
def sums() -> dict[str, str]:
    """The SHA-256 of each file that papers and pages use, of the versions in pyproject.toml."""
    lines = Path(__file__).with_name("sha256sums").read_text().splitlines()
    return {name: digest for digest, name in map(str.split, lines)}


@cache
def path(name: str) -> Path:
    """Path of a file of `sums`.

    Raises ShopflowError where it is missing or differs from the one that documents were tested
    with: they would come out different without a warning.
    """
    file_path = _folder(name) / name
    try:
        with file_path.open("rb") as file:
            digest = hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise ShopflowError(
            gettext("the typeface {name} cannot be read: {error}", name=name, error=error)
        ) from None
    if digest != sums()[name]:
        raise ShopflowError(
            gettext(
                "{file_path} is not the typeface this version of shopflow uses: install shopflow "
                "again",
                file_path=file_path,
            )
        )
    return file_path


def damage() -> Iterator[str]:
    """Describe each file that is missing or differs."""
    for name in sums():
        try:
            path(name)
        except ShopflowError as error:
            yield str(error)


def _folder(name: str) -> Path:
    package = LATIN if name.startswith("SourceSans") else HAN if "CJK" in name else SCRIPTS
    spec = find_spec(package)
    if spec is None or spec.origin is None:
        raise ShopflowError(
            gettext(
                "the package {package}, which carries typefaces, is not installed", package=package
            )
        )
    folder = Path(spec.origin).parent
    return folder / "files" if package == LATIN else folder
