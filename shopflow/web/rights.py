"""Who may do what: every endpoint and the roles it is open to. What has no row is shut."""

from __future__ import annotations

from flask import Flask, abort, redirect, request, url_for
from flask.typing import ResponseReturnValue

from shopflow.models import Role
from shopflow.services import people
from shopflow.web.auth import current_person
from shopflow.web.db import db

ALL = frozenset(Role)
STAFF = frozenset({Role.OWNER, Role.MACHINIST, Role.COUNTER})
OFFICE = frozenset({Role.OWNER, Role.COUNTER})
WORKSHOP = frozenset({Role.OWNER, Role.MACHINIST})
OWNER = frozenset({Role.OWNER})

OPEN = frozenset(
    {
        *("static", "assets.font", "health.health", "account.sign_in", "set_up.set_up"),
        *("verify.index", "verify.scanned", "verify.file"),
        *("customer_page.page", "customer_page.certificate"),
        *("customer_page.file", "customer_page.thumbnail"),
    }
)
"""Endpoints that need no sign-in; a customer's page opens to its link alone."""

RIGHTS: dict[str, frozenset[Role]] = {
    "account.me": ALL,
    "account.sign_out": ALL,
    "account.sign_out_everywhere": ALL,
    "benches.add_range": WORKSHOP,
    "benches.bench": ALL,
    "benches.calibrate": WORKSHOP,
    "benches.change": WORKSHOP,
    "benches.check": WORKSHOP,
    "benches.create": WORKSHOP,
    "benches.index": ALL,
    "certificates.certificate": ALL,
    "certificates.correct": WORKSHOP,
    "certificates.new": WORKSHOP,
    "certificates.withdraw": OWNER,
    "collections.hand_over": STAFF,
    "comparisons.index": ALL,
    "comparisons.of_head": ALL,
    "comparisons.of_job": ALL,
    "customers.change": STAFF,
    "customers.create": STAFF,
    "customers.customer": ALL,
    "customers.index": ALL,
    "drafts.change": WORKSHOP,
    "drafts.check": WORKSHOP,
    "drafts.discard": WORKSHOP,
    "drafts.draft": ALL,
    "drafts.issue": OWNER,
    "drafts.preview": ALL,
    "engines.change": STAFF,
    "engines.create": STAFF,
    "engines.engine": ALL,
    "engines.export": ALL,
    "engines.index": ALL,
    "files.add": STAFF,
    "files.change": STAFF,
    "files.file": ALL,
    "files.take_off": STAFF,
    "files.thumbnail": ALL,
    "floor.index": ALL,
    "hand_offs.edit": WORKSHOP,
    "hand_offs.sign": OWNER,
    "hand_offs.take_back": OWNER,
    "heads.change": STAFF,
    "heads.head": ALL,
    "invoices.credit": OWNER,
    "invoices.invoice": ALL,
    "invoices.issue": OFFICE,
    "jobs.approve": OFFICE,
    "jobs.book_in": OFFICE,
    "jobs.cancel": OFFICE,
    "jobs.change": OFFICE,
    "jobs.change_visit": STAFF,
    "jobs.index": ALL,
    "jobs.job": ALL,
    "jobs.move": OFFICE,
    "jobs.seen_before": OFFICE,
    "jobs.visit": ALL,
    "links.make": OFFICE,
    "links.preview": OFFICE,
    "links.revoke": OFFICE,
    "lookup.index": ALL,
    "mail.send": OFFICE,
    "mail.write": OFFICE,
    "mailbox.settings": OWNER,
    "mailbox.test": OWNER,
    "measurements.choose": WORKSHOP,
    "measurements.correct": WORKSHOP,
    "measurements.record": WORKSHOP,
    "money.index": ALL,
    "money.pay": OFFICE,
    "numbers.index": ALL,
    "operations.add": STAFF,
    "operations.add_routing": STAFF,
    "operations.change": STAFF,
    "operations.move": STAFF,
    "operations.reopen": WORKSHOP,
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
    "papers.hand_off": ALL,
    "papers.invoice": ALL,
    "papers.quote": ALL,
    "papers.tags": ALL,
    "papers.work_order": ALL,
    "people.create": OWNER,
    "people.index": OWNER,
    "people.password": OWNER,
    "people.person": OWNER,
    "people.sign_out_everywhere": OWNER,
    "quotes.approve": OFFICE,
    "quotes.new": OFFICE,
    "routings.change": OFFICE,
    "routings.create": OFFICE,
    "routings.index": ALL,
    "search.index": ALL,
    "sections.port": ALL,
    "sections.record": WORKSHOP,
    "sessions.exclude": WORKSHOP,
    "sessions.export": ALL,
    "sessions.give_up": WORKSHOP,
    "sessions.include": WORKSHOP,
    "sessions.new": WORKSHOP,
    "sessions.session": ALL,
    "sessions.working": ALL,
    "sessions.upload": WORKSHOP,
    "sessions.worked_out": WORKSHOP,
    "shop.make_key": OWNER,
    "warranty.change": OFFICE,
    "worths.of_head": ALL,
    "shop.house_style": OWNER,
    "shop.logo": ALL,
    "shop.settings": OWNER,
    "sums.index": ALL,
    "sums.work_out": ALL,
    "tags.choose": STAFF,
}


def init_app(app: Flask) -> None:
    """Enforce the table before every request, and let templates ask it."""
    app.before_request(_enforce)
    app.add_template_global(may)


def may(endpoint: str) -> bool:
    """Whether the person signed in may open an endpoint."""
    person = current_person()
    return person is not None and person.role in RIGHTS.get(endpoint, frozenset())


def _enforce() -> ResponseReturnValue | None:
    endpoint = request.endpoint
    if endpoint is None or endpoint in OPEN or may(endpoint):
        return None
    if current_person() is not None:
        abort(403)
    if not people.any_person(db()):
        return redirect(url_for("set_up.set_up"))
    wanted = request.full_path.rstrip("?") if request.method == "GET" else None
    return redirect(url_for("account.sign_in", next=wanted if wanted != "/" else None))
