"""The style sheets, scripts and typefaces of the pages."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

from flask import Blueprint, Flask, Response, abort, send_file

from shopflow.fonts import files

STYLES = ("It", "Regular", "Semibold", "Bold")
A_YEAR = 365 * 24 * 3600

ENDPOINTS = ("static", "assets.font")
"""Endpoints of files that are the same for everyone."""

blueprint = Blueprint("assets", __name__)


def init_app(app: Flask) -> None:
    """Serve them to be kept for a year, under an address that changes when the file does."""
    app.config["SEND_FILE_MAX_AGE_DEFAULT"] = A_YEAR
    app.register_blueprint(blueprint)
    folder = Path(app.static_folder or "")
    stamps = {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()[:12]
        for path in folder.rglob("*.*")
    }

    @app.url_defaults
    def stamp(endpoint: str, values: dict[str, Any]) -> None:
        if endpoint == "static":
            values.setdefault("v", stamps[values["filename"]])


@blueprint.get("/fonts/<style>.ttf")
def font(style: str) -> Response:
    """One style of the typeface, from the package that carries it."""
    if style not in STYLES:
        abort(404)
    return send_file(files.path(f"SourceSansPro-{style}.ttf"), mimetype="font/ttf")
