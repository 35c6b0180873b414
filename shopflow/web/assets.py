"""The style sheets, scripts and typefaces of the pages."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

from flask import Blueprint, Flask, Response, abort, request

from shopflow.web.typefaces import STYLES, woff2

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


@blueprint.get("/fonts/<style>.woff2")
def font(style: str) -> Response:
    """One style of the typeface, which changes with the program alone."""
    if style not in STYLES:
        abort(404)
    answer = Response(woff2(style), mimetype="font/woff2")
    answer.cache_control.public = True
    answer.cache_control.max_age = A_YEAR
    answer.add_etag()
    answer.make_conditional(request)
    return answer
