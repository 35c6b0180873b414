"""Permissions: every endpoint and the roles it is open to. An endpoint without a row is closed."""

from __future__ import annotations

from datetime import timedelta
from urllib.parse import urlsplit

from flask import Flask, abort, current_app, redirect, request, url_for
from flask.typing import ResponseReturnValue

from shopflow.models import Role
from shopflow.services.accounts import users
from shopflow.web.auth import confirmed, current_person
from shopflow.web.db import db

ALL = frozenset(Role)
STAFF = frozenset({Role.OWNER, Role.MACHINIST, Role.COUNTER})
OFFICE = frozenset({Role.OWNER, Role.COUNTER})
WORKSHOP = frozenset({Role.OWNER, Role.MACHINIST})
OWNER = frozenset({Role.OWNER})

CONFIRMED = frozenset(
    {
        *("account.end_sign_in", "smtp_settings.settings", "shop.make_key"),
        *("users.create", "users.password", "users.person", "users.sign_out_everywhere"),
    }
)
"""Endpoints that decide who gets in, or hold a secret: they ask for the password again."""

CONFIRMED_TO_OPEN = timedelta(minutes=15)
CONFIRMED_TO_SEND = timedelta(hours=1)
"""Longer than to open the page, so that nothing typed in it meanwhile is lost."""

OPEN = frozenset(
    {
        *("static", "assets.font", "health.health", "account.sign_in", "set_up.set_up"),
        *("account.sign_in_again", "account.standing"),
        *("verification.index", "verification.scanned", "verification.file", "verification.issued"),
        *("customer_view.page", "customer_view.certificate", "customer_view.inspection_report"),
        *("customer_view.file", "customer_view.thumbnail", "api.openapi"),
        "feeds.feed",
        *("offline.manifest", "offline.service_worker", "offline.queue"),
    }
)
"""Endpoints that need no sign-in; a customer's page and a calendar open to their address alone."""

BY_TOKEN = frozenset(
    {
        *("api.list_customers", "api.customer", "api.list_engines", "api.engine"),
        *(
            "api.list_heads",
            "api.head",
            "api.list_jobs",
            "api.job",
            "api.list_measurements",
            "api.list_sessions",
        ),
        *("api.session", "api.session_file", "api.list_certificates", "api.certificate"),
        *("api.certificate_pdf", "api.floor"),
        *("api.list_cams", "api.cam", "api.cam_file"),
        *("api.list_springs", "api.spring"),
        *("api.list_seat_profiles", "api.seat_profile"),
        *("api.list_integrity_tests", "api.integrity_test"),
        *("api.list_changes", "api.list_files", "api.file", "api.measurement", "api.notes"),
        *("api.bench", "api.open_test", "api.list_readings", "api.add_reading"),
        *("api.add_session", "api.add_measurement", "api.add_photo", "api.replace_notes"),
        *("api.list_quotes", "api.quote", "api.list_invoices", "api.invoice"),
        *("api.list_payments", "api.list_balances", "api.balance"),
    }
)
"""Endpoints that a token opens, and no sign-in: web/api asks for it, and for the scope that each
declares, before each of them."""

RIGHTS: dict[str, frozenset[Role]] = {
    "account.confirm": ALL,
    "account.end_sign_in": ALL,
    "account.me": ALL,
    "account.search_key": ALL,
    "account.sign_out": ALL,
    "account.sign_out_everywhere": ALL,
    "api_tokens.index": OWNER,
    "api_tokens.make": OWNER,
    "api_tokens.revoke": OWNER,
    "attachments.add": STAFF,
    "attachments.change": STAFF,
    "attachments.file": ALL,
    "attachments.original": STAFF,
    "attachments.take_off": STAFF,
    "attachments.thumbnail": ALL,
    "bench_days.current": ALL,
    "bench_days.exchange": WORKSHOP,
    "bench_days.leak_check": WORKSHOP,
    "bench_days.past": ALL,
    "bench_days.warm_up": WORKSHOP,
    "bench_mode.begin_own": WORKSHOP,
    "bench_mode.begin_spare": WORKSHOP,
    "bench_mode.benches": WORKSHOP,
    "bench_mode.end": WORKSHOP,
    "bench_mode.index": WORKSHOP,
    "bench_mode.move": WORKSHOP,
    "bench_mode.ports": WORKSHOP,
    "bench_mode.set_scans": WORKSHOP,
    "bench_mode.test": WORKSHOP,
    "benches.add_range": WORKSHOP,
    "benches.bench": ALL,
    "benches.calibrate": WORKSHOP,
    "benches.calibration": ALL,
    "benches.change": WORKSHOP,
    "benches.check": WORKSHOP,
    "benches.create": WORKSHOP,
    "benches.index": ALL,
    "benches.leakage": WORKSHOP,
    "benches.record": WORKSHOP,
    "cams.archive": STAFF,
    "cams.cam": ALL,
    "cams.change": STAFF,
    "cams.create": STAFF,
    "cams.file": ALL,
    "cams.of_owner": ALL,
    "cams.restore": STAFF,
    "cams.upload": STAFF,
    "capacity.index": ALL,
    "castings.add_spare": STAFF,
    "castings.offer": STAFF,
    "castings.spares": ALL,
    "castings.status": STAFF,
    "castings.use_spare": OFFICE,
    "castings.withdraw_offer": STAFF,
    "certificates.certificate": ALL,
    "certificates.correct": WORKSHOP,
    "certificates.new": WORKSHOP,
    "certificates.withdraw": OWNER,
    "collections.hand_over": STAFF,
    "comparisons.at_lift": ALL,
    "comparisons.confirm": WORKSHOP,
    "comparisons.in_part": ALL,
    "comparisons.index": ALL,
    "comparisons.of_head": ALL,
    "comparisons.of_job": ALL,
    "customer_links.make": OFFICE,
    "customer_links.preview": OFFICE,
    "customer_links.revoke": OFFICE,
    "customers.change": STAFF,
    "customers.create": STAFF,
    "customers.customer": ALL,
    "customers.index": ALL,
    "decisions.decide": WORKSHOP,
    "deposits.issue": OFFICE,
    "drafts.change": WORKSHOP,
    "drafts.check": WORKSHOP,
    "drafts.discard": WORKSHOP,
    "drafts.draft": ALL,
    "drafts.issue": OWNER,
    "drafts.preview": ALL,
    "engine_calculations.index": ALL,
    "engine_calculations.work_out": ALL,
    "engine_type_report.report": ALL,
    "engine_ranges.index": ALL,
    "engine_ranges.of_job": WORKSHOP,
    "engine_ranges.of_shop": OWNER,
    "engine_ranges.remove_of_job": WORKSHOP,
    "engine_ranges.remove_of_shop": OWNER,
    "engine_results.change": STAFF,
    "engine_results.create": STAFF,
    "engine_results.discard": STAFF,
    "engine_results.of_job": ALL,
    "engine_types.change": STAFF,
    "engine_types.create": STAFF,
    "engine_types.engine": ALL,
    "engine_types.export": ALL,
    "engine_types.in_band": ALL,
    "engine_types.index": ALL,
    "engine_types.result": ALL,
    "export.for_import_file": OWNER,
    "export.index": OWNER,
    "export.open_data": OWNER,
    "export.open_data_schema": OWNER,
    "export.tables": OWNER,
    "export.whole_shop": OWNER,
    "feeds.make": ALL,
    "feeds.own": ALL,
    "feeds.revoke": ALL,
    "first_days.index": OWNER,
    "first_days.put_away": OWNER,
    "first_days.show": OWNER,
    "fixtures.archive": WORKSHOP,
    "fixtures.change": WORKSHOP,
    "fixtures.create": WORKSHOP,
    "fixtures.index": ALL,
    "fixtures.photo": ALL,
    "fixtures.restore": WORKSHOP,
    "fixtures.small_photo": ALL,
    "floor.index": ALL,
    "floor.wall": ALL,
    "forecasts.forecast": ALL,
    "gain_by_step.of_head": ALL,
    "gain_by_step.worked": ALL,
    "hand_offs.edit": WORKSHOP,
    "hand_offs.sign": OWNER,
    "hand_offs.take_back": OWNER,
    "head_layouts.layout": WORKSHOP,
    "head_layouts.remove_usual": WORKSHOP,
    "head_layouts.usual": WORKSHOP,
    "heads.change": STAFF,
    "heads.head": ALL,
    "help.index": ALL,
    "help.page": ALL,
    "holds.begin": STAFF,
    "holds.change": STAFF,
    "holds.end": STAFF,
    "imports.confirm": OWNER,
    "imports.faults": OWNER,
    "imports.index": OWNER,
    "imports.open_data": OWNER,
    "imports.preview": OWNER,
    "imports.template": OWNER,
    "imports.upload": OWNER,
    "integrity_limits.of_engine": WORKSHOP,
    "integrity_limits.take_out": WORKSHOP,
    "integrity_tests.add": WORKSHOP,
    "integrity_tests.correct": WORKSHOP,
    "integrity_tests.of_visit": ALL,
    "integrity_tests.record": WORKSHOP,
    "integrity_tests.valves": WORKSHOP,
    "integrity_tests.withdraw": WORKSHOP,
    "invoices.credit": OWNER,
    "invoices.invoice": ALL,
    "invoices.issue": OFFICE,
    "job_lines.add": STAFF,
    "job_lines.change": STAFF,
    "job_lines.index": ALL,
    "job_lines.remove": STAFF,
    "jobs.approve": OFFICE,
    "jobs.book_in": OFFICE,
    "jobs.cancel": OFFICE,
    "jobs.change": OFFICE,
    "jobs.change_visit": STAFF,
    "jobs.index": ALL,
    "jobs.job": ALL,
    "jobs.move": OFFICE,
    "jobs.offers": OFFICE,
    "jobs.seen_before": OFFICE,
    "jobs.visit": ALL,
    "labels.choose": STAFF,
    "lift_lists.change": WORKSHOP,
    "lift_lists.create": WORKSHOP,
    "lift_lists.index": ALL,
    "lift_lists.remove": WORKSHOP,
    "limits.copy": WORKSHOP,
    "limits.of_engine": WORKSHOP,
    "limits.take_out": WORKSHOP,
    "mail.send": OFFICE,
    "mail.write": OFFICE,
    "measurement_kinds.add": OWNER,
    "measurement_kinds.change": OWNER,
    "measurement_kinds.index": ALL,
    "measurement_kinds.offer": OWNER,
    "measurements.choose": WORKSHOP,
    "measurements.correct": WORKSHOP,
    "measurements.of_head": ALL,
    "measurements.record": WORKSHOP,
    "measurements.restore": WORKSHOP,
    "measurements.strike": WORKSHOP,
    "method_notes.index": ALL,
    "my_work.index": STAFF,
    "operation_kinds.add": OWNER,
    "operation_kinds.change": OWNER,
    "operation_kinds.index": ALL,
    "operation_kinds.offer": OWNER,
    "operation_kinds.places": OWNER,
    "operations.add": STAFF,
    "operations.add_routing": STAFF,
    "operations.change": STAFF,
    "operations.find": STAFF,
    "operations.move": STAFF,
    "operations.move_to": STAFF,
    "operations.reopen": WORKSHOP,
    "operations.repeat": STAFF,
    "operations.sign_off": WORKSHOP,
    "operations.skip": STAFF,
    "operations.start": WORKSHOP,
    "outbox.arrived": OFFICE,
    "outbox.cancel": OFFICE,
    "outbox.index": OFFICE,
    "outbox.message": OFFICE,
    "outbox.paper": OFFICE,
    "outbox.send_again": OFFICE,
    "papers.bench_card": ALL,
    "papers.certificate": ALL,
    "papers.collection": ALL,
    "papers.engine_type": ALL,
    "papers.hand_off": ALL,
    "papers.inspection_report": ALL,
    "papers.invoice": ALL,
    "papers.quote": ALL,
    "papers.receipt": ALL,
    "papers.springs": ALL,
    "papers.statement": OFFICE,
    "papers.tags": ALL,
    "papers.through_cam": ALL,
    "papers.work_order": ALL,
    "past_jobs.index": ALL,
    "payments.index": ALL,
    "payments.pay": OFFICE,
    "plans.copy": STAFF,
    "plans.save_template": OFFICE,
    "port_limit.head": ALL,
    "practice.begin": OFFICE,
    "practice.discard": OFFICE,
    "price_list.add": OFFICE,
    "price_list.change": OFFICE,
    "price_list.index": ALL,
    "price_list.remove": OFFICE,
    "questions.answer": STAFF,
    "questions.index": ALL,
    "quotes.new": OFFICE,
    "receivables.export": OFFICE,
    "receivables.index": OFFICE,
    "releases.give": OWNER,
    "reports.engines": ALL,
    "reports.engines_export": ALL,
    "reports.export": ALL,
    "reports.forecasts": ALL,
    "reports.forecasts_export": ALL,
    "reports.index": ALL,
    "reports.money": OFFICE,
    "reports.money_export": OFFICE,
    "reports.report": ALL,
    "scans.cut": WORKSHOP,
    "scans.index": WORKSHOP,
    "search.index": ALL,
    "sections.port": ALL,
    "sections.record": WORKSHOP,
    "sections.worked": ALL,
    "sessions.captured": WORKSHOP,
    "sessions.exclude": WORKSHOP,
    "sessions.export": ALL,
    "sessions.include": WORKSHOP,
    "sessions.new": WORKSHOP,
    "sessions.results": ALL,
    "sessions.session": ALL,
    "sessions.sizes_of_side": WORKSHOP,
    "sessions.upload": WORKSHOP,
    "sessions.worked_out": WORKSHOP,
    "sessions.working": ALL,
    "seat_profiles.copy": WORKSHOP,
    "seat_profiles.of_engine": ALL,
    "seat_profiles.of_head": ALL,
    "seat_profiles.preview": WORKSHOP,
    "seat_profiles.remove": WORKSHOP,
    "seat_profiles.seat": WORKSHOP,
    "seat_profiles.usual": WORKSHOP,
    "sheets.cells": WORKSHOP,
    "sheets.save": WORKSHOP,
    "sheets.sheet": ALL,
    "shop.hours": OWNER,
    "shop.house_style": OWNER,
    "shop.logo": ALL,
    "shop.make_key": OWNER,
    "shop.settings": OWNER,
    "simulation.head": ALL,
    "smtp_settings.settings": OWNER,
    "smtp_settings.test": OWNER,
    "springs.edit": WORKSHOP,
    "springs.edit_usual": WORKSHOP,
    "springs.head": ALL,
    "springs.remove": WORKSHOP,
    "springs.remove_usual": WORKSHOP,
    "springs.usual": ALL,
    "test_drafts.discard": WORKSHOP,
    "test_drafts.restore": WORKSHOP,
    "through_cam.head": ALL,
    "through_cam.save_forecast": WORKSHOP,
    "time_tracking.correct": WORKSHOP,
    "time_tracking.of_operation": ALL,
    "time_tracking.pause": WORKSHOP,
    "time_tracking.take_up": WORKSHOP,
    "users.create": OWNER,
    "users.index": OWNER,
    "users.password": OWNER,
    "users.person": OWNER,
    "users.sign_out_everywhere": OWNER,
    "warranty.change": OFFICE,
    "withdrawals.correct": WORKSHOP,
    "withdrawals.correct_by_file": WORKSHOP,
    "withdrawals.restore": WORKSHOP,
    "withdrawals.withdraw": WORKSHOP,
    "work_plans.change": OFFICE,
    "work_plans.create": OFFICE,
    "work_plans.index": ALL,
    "work_plans.starters": OFFICE,
}


def init_app(app: Flask) -> None:
    """Enforce the table before every request, and let templates ask it."""
    app.before_request(_enforce)
    app.add_template_global(may)


def may(endpoint: str) -> bool:
    """True where the user may open an endpoint."""
    person = current_person()
    return person is not None and person.role in RIGHTS.get(endpoint, frozenset())


def _enforce() -> ResponseReturnValue | None:
    endpoint = request.endpoint
    if endpoint is None or endpoint in OPEN | BY_TOKEN:
        return None
    person = current_person()
    if may(endpoint):
        return _ask_again() if endpoint in CONFIRMED else None
    if person is not None:
        current_app.logger.warning("refused person %s at %s", person.id, endpoint)
        abort(403)
    if not users.any_person(db()):
        return redirect(url_for("set_up.set_up"))
    wanted = request.full_path.rstrip("?") if request.method == "GET" else None
    return redirect(url_for("account.sign_in", next=wanted if wanted != "/" else None))


def _ask_again() -> ResponseReturnValue | None:
    """The page that asks for the password, where it was not given lately."""
    reading = request.method == "GET"
    if confirmed(CONFIRMED_TO_OPEN if reading else CONFIRMED_TO_SEND):
        return None
    return redirect(url_for("account.confirm", next=_page_wanted()))


def _page_wanted() -> str:
    """The page to go on to; of a button, the page it stands on."""
    if request.url_rule is not None and "GET" in (request.url_rule.methods or ()):
        return request.full_path.rstrip("?")
    return urlsplit(request.referrer or "/").path
