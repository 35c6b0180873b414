"""Navigation by role: the links in the bar, and the menu of everything else."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from flask import Flask, request

from shopflow.models import Role
from shopflow.texts import lazy
from shopflow.web.auth import current_person
from shopflow.web.context import current_shop
from shopflow.web.rights import may

LABELS = {
    "my_work.index": lazy("My work"),
    "floor.index": lazy("Floor"),
    "bench_mode.index": lazy("Test a head"),
    "jobs.book_in": lazy("Book in"),
    "jobs.index": lazy("Jobs"),
    "questions.index": lazy("Questions for customers"),
    "capacity.index": lazy("Capacity"),
    "floor.wall": lazy("Wall screen"),
    "past_jobs.index": lazy("Look up"),
    "engine_types.index": lazy("Engines"),
    "customers.index": lazy("Customers"),
    "castings.spares": lazy("Spare castings"),
    "benches.index": lazy("Benches"),
    "fixtures.index": lazy("Bench fixtures"),
    "lift_lists.index": lazy("Lift lists"),
    "engine_calculations.index": lazy("Calculators"),
    "method_notes.index": lazy("About the numbers"),
    "receivables.index": lazy("Unpaid invoices"),
    "bookkeeping.index": lazy("Bookkeeping"),
    "reports.index": lazy("Reports"),
    "outbox.index": lazy("Outbox"),
    "catalog.index": lazy("Parts"),
    "purchase_orders.index": lazy("Purchase orders"),
    "sent_out.index": lazy("Work sent out"),
    "work_plans.index": lazy("Work plan templates"),
    "price_list.index": lazy("Price list"),
    "operation_kinds.index": lazy("Step types"),
    "measurement_kinds.index": lazy("Measurement types"),
    "first_days.index": lazy("First days"),
    "shop.settings": lazy("Shop settings"),
    "shop.hours": lazy("Opening hours"),
    "users.index": lazy("People"),
    "smtp_settings.settings": lazy("Mail server"),
    "imports.index": lazy("Import"),
    "export.index": lazy("Export"),
    "api_tokens.index": lazy("API tokens"),
    "webhooks.index": lazy("Webhooks"),
}

OF_PARTS = ("catalog.index", "purchase_orders.index", "sent_out.index")
"""Pages that are there only where the shop uses parts."""

BAR = {
    Role.OWNER: (
        *("floor.index", "my_work.index", "jobs.book_in", "bench_mode.index", "jobs.index"),
        *("customers.index", "reports.index"),
    ),
    Role.COUNTER: (
        *("floor.index", "jobs.book_in", "jobs.index", "customers.index", "outbox.index"),
        "reports.index",
    ),
    Role.MACHINIST: (
        *("my_work.index", "bench_mode.index", "floor.index", "past_jobs.index"),
        *("engine_types.index", "benches.index"),
    ),
    Role.READER: (
        *("floor.index", "jobs.index", "past_jobs.index", "engine_types.index"),
        "reports.index",
    ),
}
"""Links of each role in the bar; the first of a machinist is their own work."""

MENU = (
    (
        lazy("Work"),
        (
            *("my_work.index", "floor.index", "jobs.book_in", "jobs.index", "questions.index"),
            *("capacity.index", "floor.wall"),
        ),
    ),
    (
        lazy("Records"),
        ("past_jobs.index", "engine_types.index", "customers.index", "castings.spares"),
    ),
    (
        lazy("Bench"),
        (
            *("bench_mode.index", "benches.index", "fixtures.index"),
            "lift_lists.index",
            *("engine_calculations.index", "method_notes.index"),
        ),
    ),
    (lazy("Office"), ("reports.index", "receivables.index", "bookkeeping.index", "outbox.index")),
    (lazy("Parts"), OF_PARTS),
    (
        lazy("Set-up"),
        (
            *("first_days.index", "shop.settings", "shop.hours", "users.index"),
            *("work_plans.index", "price_list.index"),
            *("operation_kinds.index", "measurement_kinds.index", "smtp_settings.settings"),
            *("imports.index", "export.index", "api_tokens.index"),
            "webhooks.index",
        ),
    ),
)
"""The menu of all pages that stand by themselves, in groups."""


@dataclass(frozen=True, slots=True)
class Link:
    """A link of the navigation."""

    endpoint: str
    words: str
    is_here: bool
    """True on that very page."""

    is_within: bool
    """True on a page of the same records."""


def init_app(app: Flask) -> None:
    """Let templates ask for the links of the user."""
    app.add_template_global(bar_links)
    app.add_template_global(menu_groups)


def first_page(role: Role) -> str:
    """Endpoint that a user of this role comes to after signing in."""
    return BAR[role][0]


def bar_links() -> list[Link]:
    """Links of the bar for the user signed in."""
    person = current_person()
    return list(_links(BAR[person.role])) if person is not None else []


def menu_groups() -> list[tuple[str, list[Link]]]:
    """Groups of the menu with the links that are open to the user; none that is empty."""
    groups = [(str(heading), list(_links(endpoints))) for heading, endpoints in MENU]
    return [(heading, links) for heading, links in groups if links]


def _uses_parts() -> bool:
    shop = current_shop()
    return shop is not None and shop.uses_parts


def _links(endpoints: Iterable[str]) -> Iterator[Link]:
    here = request.endpoint or ""
    for endpoint in endpoints:
        if may(endpoint) and (endpoint not in OF_PARTS or _uses_parts()):
            noun = endpoint.partition(".")[0]
            within = noun not in ("floor", "jobs", "shop") and here.startswith(f"{noun}.")
            yield Link(endpoint, str(LABELS[endpoint]), here == endpoint, within)
