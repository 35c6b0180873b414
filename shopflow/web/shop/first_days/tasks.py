"""The tasks of the first days in words, each with the page where it is done."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from flask import current_app, url_for
from sqlalchemy.orm import Session

from shopflow.backup.backup import LAST
from shopflow.services.shop import first_days
from shopflow.services.shop.first_days import Standing, Task
from shopflow.texts import gettext, lazy, ngettext

TITLES = {
    Task.UNITS: lazy("Units and currency"),
    Task.ADDRESS: lazy("Address and tax"),
    Task.BENCH: lazy("Flow bench"),
    Task.PRICES: lazy("Prices and minutes"),
    Task.PLAN: lazy("Work plan"),
    Task.ENGINE: lazy("First engine type"),
    Task.HEAD: lazy("First head"),
    Task.MAIL: lazy("Mail server"),
    Task.BACKUP: lazy("Backup"),
    Task.PEOPLE: lazy("People"),
}
HINTS = {
    Task.UNITS: lazy("Chosen when the shop was set up."),
    Task.ADDRESS: lazy("Printed on every document."),
    Task.BENCH: lazy("Its ranges; a calibration certificate can follow later."),
    Task.PRICES: lazy("Usual price and minutes of each step type."),
    Task.PLAN: lazy("Steps you use often, as a template."),
    Task.ENGINE: lazy("Builder, family and cylinders."),
    Task.HEAD: lazy("Book a head in for a customer."),
    Task.MAIL: lazy("To send quotes and certificates (optional)."),
    Task.BACKUP: lazy("Run the backup command once and put it on a timer."),
    Task.PEOPLE: lazy("An account for everyone who works here (optional)."),
}
PAGES: dict[Task, tuple[str, dict[str, Any]]] = {
    Task.UNITS: ("shop.settings", {}),
    Task.ADDRESS: ("shop.settings", {}),
    Task.BENCH: ("benches.create", {}),
    Task.PRICES: ("operation_kinds.index", {}),
    Task.PLAN: ("work_plans.index", {}),
    Task.ENGINE: ("engine_types.create", {}),
    Task.HEAD: ("jobs.book_in", {}),
    Task.MAIL: ("smtp_settings.settings", {}),
    Task.BACKUP: ("help.page", {"name": "running-the-server"}),
    Task.PEOPLE: ("users.create", {}),
}


@dataclass(frozen=True, slots=True)
class Row:
    """A task as the checklist shows it."""

    title: str
    detail: str
    is_done: bool
    url: str


def checklist(db: Session) -> list[Row]:
    """Every task with its state."""
    backed_up = (current_app.config["SHOPFLOW"].data / LAST).exists()
    return [_row(standing) for standing in first_days.of_shop(db, backed_up=backed_up)]


def _row(standing: Standing) -> Row:
    endpoint, parts = PAGES[standing.task]
    detail = _state(standing) if standing.is_done else str(HINTS[standing.task])
    title = str(TITLES[standing.task])
    return Row(title, detail, standing.is_done, url_for(endpoint, **parts))


def _state(standing: Standing) -> str:
    count = standing.count
    match standing.task:
        case Task.BENCH:
            if not count:
                return gettext("without a calibration yet: tests compare, certificates wait for it")
            return ngettext("{num} calibration", "{num} calibrations", count)
        case Task.PRICES:
            return ngettext("{num} step type priced", "{num} step types priced", count)
        case Task.PLAN:
            return ngettext("{num} template", "{num} templates", count)
        case Task.ENGINE:
            return ngettext("{num} engine type", "{num} engine types", count)
        case Task.HEAD:
            return ngettext("{num} head booked in", "{num} heads booked in", count)
        case Task.PEOPLE:
            return ngettext("{num} account", "{num} accounts", count)
        case _:
            return str(HINTS[standing.task])
