"""Putting the web app together."""

from __future__ import annotations

from importlib import import_module

from flask import Flask

from shopflow.config import Settings
from shopflow.database import open_engine, upgrade
from shopflow.web import (
    addresses,
    assets,
    auth,
    context,
    db,
    errors,
    filters,
    headers,
    health,
    rights,
)

LARGEST_REQUEST = 8 * 1024 * 1024
"""Bytes; a session file or a photo fits, a flood does not."""

NOUNS = (
    "account",
    "benches",
    "certificates",
    "customers",
    "engines",
    "floor",
    "hand_offs",
    "heads",
    "invoices",
    "jobs",
    "lookup",
    "measurements",
    "money",
    "numbers",
    "operations",
    "papers",
    "people",
    "quotes",
    "routings",
    "search",
    "sessions",
    "set_up",
    "shop",
    "sums",
    "tags",
)
"""Folders of shopflow.web, each with a `blueprint` in its `routes` module."""


def create(settings: Settings) -> Flask:
    """A Flask app: settings, then what all pages share, then the nouns."""
    app = Flask("shopflow", template_folder="web/templates", static_folder="web/static")
    app.config.update(
        SHOPFLOW=settings,
        SECRET_KEY=settings.secret_key,
        MAX_CONTENT_LENGTH=LARGEST_REQUEST,
        MAX_FORM_MEMORY_SIZE=LARGEST_REQUEST,
    )
    app.jinja_options = {"trim_blocks": True, "lstrip_blocks": True}
    engine = open_engine(settings.database_url)
    upgrade(engine)
    db.init_app(app, engine)
    for part in (addresses, assets, auth, context, errors, filters, headers, health, rights):
        part.init_app(app)
    for noun in NOUNS:
        app.register_blueprint(import_module(f"shopflow.web.{noun}.routes").blueprint)
    return app
