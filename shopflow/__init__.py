"""Job tracking, flow bench records and papers for the cylinder-head shop."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from flask import Flask

    from shopflow.config import Settings


def create_app(settings: Settings) -> Flask:
    """The web app over the records these settings name; their schema is brought up to date."""
    # Imported here, so that what needs no web (shopflow reduce) starts without it.
    from shopflow.web import app

    return app.create(settings)
