"""The shop's signature, for what a request issues."""

from __future__ import annotations

from pathlib import Path

from flask import current_app

from shopflow import signing
from shopflow.issuing import Sign


def folder() -> Path:
    """The shop's folder, which holds its key."""
    data: Path = current_app.config["SHOPFLOW"].data
    return data


def sign() -> Sign | None:
    """Signer of the shop's documents; None where the shop has no key.

    Raises RuleError where the key cannot be read.
    """
    return signing.signer(folder())
