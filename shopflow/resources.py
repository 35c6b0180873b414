"""Folders of the files beside the code: in an installed package or in a checkout."""

from __future__ import annotations

from importlib.metadata import version
from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


def _beside(name: str) -> Path:
    packaged = _PACKAGE / name
    return packaged if packaged.exists() else _PACKAGE.parent / name


MIGRATIONS = _beside("migrations")
SEED_DATA = _beside("seed_data")
GUIDE = _PACKAGE / "guide"
DEPLOYMENT = _PACKAGE / "serving" / "deployment"
VERSION = version("shopflow")
