"""Putting the web app together."""

from __future__ import annotations

from importlib import import_module

from flask import Flask

from shopflow.config import Settings
from shopflow.database import open_engine, upgrade
from shopflow.lost_records import has_records, mark_set_up, refuse_lost_records
from shopflow.web import (
    addresses,
    assets,
    auth,
    compiled,
    conflicts,
    context,
    db,
    errors,
    filters,
    forms,
    headers,
    health,
    idempotency,
    language,
    limits,
    logs,
    navigation,
    rights,
    undo,
)
from shopflow.web.offline import answers

NOUNS = (
    "accounts.account",
    "accounts.api_tokens",
    "accounts.users",
    "accounts.webhooks",
    "analysis.comparisons",
    "analysis.engine_type_report",
    "analysis.forecasts",
    "analysis.gain_by_step",
    "analysis.method_notes",
    "api",
    "bench.bench_mode",
    "bench.bench_days",
    "bench.benches",
    "bench.fixtures",
    "bench.scans",
    "bench.sections",
    "bench.sessions",
    "bench.swirl_tests",
    "bench.test_drafts",
    "bench.velocity_maps",
    "bench.withdrawals",
    "billing.bookkeeping",
    "billing.deposits",
    "billing.invoices",
    "billing.job_lines",
    "billing.payments",
    "billing.price_list",
    "billing.quotes",
    "billing.receivables",
    "billing.reminders",
    "certificates.drafts",
    "certificates.certificates",
    "certificates.verification",
    "counter.collections",
    "counter.customer_view",
    "counter.practice",
    "engine.cams",
    "engine.engine_ranges",
    "engine.engine_results",
    "engine.port_limit",
    "engine.simulation",
    "engine.through_cam",
    "export",
    "hand_off.engine_calculations",
    "hand_off.notes",
    "help",
    "imports",
    "jobs.jobs",
    "jobs.warranty",
    "measuring.integrity_limits",
    "measuring.integrity_tests",
    "measuring.kinds",
    "measuring.limits",
    "measuring.measurements",
    "measuring.seat_profiles",
    "measuring.sheets",
    "messaging.feeds",
    "messaging.mail",
    "messaging.outbox",
    "messaging.smtp_settings",
    "offline",
    "paperwork.labels",
    "paperwork.papers",
    "parts.bin_labels",
    "parts.catalog",
    "parts.part_needs",
    "parts.purchase_orders",
    "parts.sent_out",
    "parts.suppliers",
    "planning.capacity",
    "planning.floor",
    "planning.my_work",
    "planning.questions",
    "planning.reports",
    "registry.attachments",
    "registry.castings",
    "registry.customer_links",
    "registry.customers",
    "registry.engine_types",
    "registry.head_layouts",
    "registry.heads",
    "registry.lift_lists",
    "routing.decisions",
    "routing.holds",
    "routing.operation_kinds",
    "routing.operations",
    "routing.plans",
    "routing.releases",
    "routing.time_tracking",
    "routing.work_plans",
    "search.past_jobs",
    "search.search",
    "shop.first_days",
    "shop.set_up",
    "shop.settings",
    "springs",
)
"""Folders of shopflow.web, each with a `blueprint` in its `routes` module."""


def create(settings: Settings) -> Flask:
    """A Flask app: settings, then what all pages share, then the nouns."""
    app = Flask("shopflow", template_folder="web/templates", static_folder="web/static")
    app.config.update(
        SHOPFLOW=settings,
        SECRET_KEY=settings.secret_key,
    )
    app.jinja_options = {
        "trim_blocks": True,
        "lstrip_blocks": True,
        "extensions": ["jinja2.ext.i18n"],
    }
    engine = open_engine(settings.database_url)
    refuse_lost_records(engine, settings.data)
    if has_records(engine):
        mark_set_up(settings.data)
    upgrade(engine)
    db.init_app(app, engine)
    for part in (
        addresses,
        language,
        limits,
        assets,
        auth,
        conflicts,
        context,
        errors,
        filters,
        forms,
        headers,
        health,
        logs,
        navigation,
        rights,
        undo,
        answers,
        idempotency,
    ):
        part.init_app(app)
    for noun in NOUNS:
        app.register_blueprint(import_module(f"shopflow.web.{noun}.routes").blueprint)
    compiled.init_app(app)
    return app
