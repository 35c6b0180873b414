"""Putting the web app together."""

from __future__ import annotations

from importlib import import_module

from flask import Flask

from shopflow import fonts
from shopflow.config import Settings
from shopflow.database import open_engine, upgrade
from shopflow.lost_records import has_records, mark_set_up, refuse_lost_records
from shopflow.web import (
    addresses,
    assets,
    auth,
    conflicts,
    context,
    db,
    errors,
    filters,
    headers,
    health,
    idempotency,
    limits,
    logs,
    rights,
)

NOUNS = (
    "account",
    "api",
    "benches",
    "calendars",
    "capacity",
    "certificates",
    "collections",
    "comparisons",
    "customer_page",
    "customers",
    "decisions",
    "drafts",
    "engine_limits",
    "engines",
    "entries",
    "export",
    "files",
    "floor",
    "hand_offs",
    "heads",
    "help",
    "imports",
    "integrity_tests",
    "invoices",
    "jobs",
    "lift_lists",
    "links",
    "lookup",
    "mail",
    "mailbox",
    "measurements",
    "money",
    "numbers",
    "operation_kinds",
    "operations",
    "outbox",
    "papers",
    "people",
    "questions",
    "quotes",
    "releases",
    "reports",
    "routings",
    "search",
    "sections",
    "sessions",
    "set_up",
    "shop",
    "sums",
    "tags",
    "times",
    "tokens",
    "verify",
    "waits",
    "warranty",
    "withdrawals",
    "worths",
)
"""Folders of shopflow.web, each with a `blueprint` in its `routes` module."""


def create(settings: Settings) -> Flask:
    """A Flask app: settings, then what all pages share, then the nouns."""
    app = Flask("shopflow", template_folder="web/templates", static_folder="web/static")
    app.config.update(
        SHOPFLOW=settings,
        SECRET_KEY=settings.secret_key,
    )
    app.jinja_options = {"trim_blocks": True, "lstrip_blocks": True}
    fonts.register()
    engine = open_engine(settings.database_url)
    refuse_lost_records(engine, settings.data)
    if has_records(engine):
        mark_set_up(settings.data)
    upgrade(engine)
    db.init_app(app, engine)
    for part in (
        addresses,
        limits,
        assets,
        auth,
        conflicts,
        context,
        errors,
        filters,
        headers,
        health,
        logs,
        rights,
        idempotency,
    ):
        part.init_app(app)
    for noun in NOUNS:
        app.register_blueprint(import_module(f"shopflow.web.{noun}.routes").blueprint)
    return app
