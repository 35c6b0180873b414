"""Records that match the text typed at the counter, offered to choose from."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy.orm import Session
from wtforms import RadioField

from shopflow.errors import NotFoundError
from shopflow.models import CastingState, Customer, EngineType, Head, HeadStatus, Visit
from shopflow.services.registry import castings, customers, engine_types, heads
from shopflow.texts import gettext, ngettext, translated
from shopflow.web.addresses import LARGEST_KEY
from shopflow.web.filters import typed

NEW = "new"
MOST_SHOWN = 8
"""On-file records offered for one choice; more would hide the form."""


class OnFileField(RadioField):
    """The record meant, by its key, or a new one; empty while nothing was chosen."""

    def __init__(self, label: str, **rest: Any) -> None:
        super().__init__(label, choices={}, validate_choice=False, **rest)
        self.offered: dict[str, Any] = {}
        self.visits: dict[str, list[Visit]] = {}
        """The past of each head on offer, the latest visit first."""

    def offer(self, rows: Mapping[int, str], new: str) -> None:
        """Offer these, by key, and a new one; nothing where there is none to offer."""
        self.offered = {str(key): words for key, words in rows.items()}
        self.choices = self.offered | {NEW: new} if rows else {}

    @property
    def chosen(self) -> int | None:
        """Key of the record chosen."""
        return int(self.data) if self.data in self.offered else None

    @property
    def new(self) -> bool:
        """True where a new record is meant: it was chosen, or nothing else is on offer."""
        return not self.offered or self.data == NEW

    @property
    def undecided(self) -> bool:
        """True where records are on offer, and neither one nor a new one was chosen."""
        return self.chosen is None and not self.new


def offer_customers(db: Session, form: Any) -> None:
    """Offer the customers that the text typed may mean."""
    text = form.customer_find.data or form.customer.form.name.data or ""
    rows = _chosen(form.customer_id, customers.get, db)
    if text.strip():
        rows += customers.list_all(db, text)[:MOST_SHOWN]
    form.customer_id.offer(
        {row.id: _customer_words(row) for row in rows}, gettext("None of these: new customer")
    )


def offer_engine_types(db: Session, form: Any) -> None:
    """Offer the engine types that the text typed may mean, spelling forgiven."""
    new = form.engine_type.form
    text = form.engine_find.data or f"{new.builder.data or ''} {new.family.data or ''}"
    rows = _chosen(form.engine_type_id, engine_types.get, db)
    if text.strip():
        rows += engine_types.look_up(db, text)[:MOST_SHOWN]
    form.engine_type_id.offer(
        {row.id: _engine_words(row) for row in rows}, gettext("None of these: new engine type")
    )


def offer_heads(db: Session, form: Any) -> None:
    """Offer the castings on record that the numbers typed may mean, each with its life."""
    rows = _chosen(form.head_id, heads.get, db)
    rows += heads.seen_before(db, form.casting_number.data or "", form.serial.data or "")
    castings = list(dict.fromkeys(rows))[:MOST_SHOWN]
    form.head_id.offer(
        {row.id: _head_words(row) for row in castings}, gettext("No: another casting")
    )
    form.head_id.visits = {str(row.id): heads.history(db, row) for row in castings}


def _chosen(field: OnFileField, get: Any, db: Session) -> list[Any]:
    """The record chosen before, which stays on offer whatever is looked for next."""
    try:
        key = int(field.data or "")
        return [get(db, key)] if 0 < key <= LARGEST_KEY else []
    except (ValueError, NotFoundError):
        return []


def _customer_words(row: Customer) -> str:
    return ", ".join(part for part in (row.name, row.phone, row.email) if part)


def _engine_words(row: EngineType) -> str:
    names = ", ".join(alias.name for alias in row.aliases)
    size = typed(row.displacement) if row.displacement else ""
    return ", ".join(
        part
        for part in (row.title, size, gettext("also {names}", names=names) if names else "")
        if part
    )


def _state_words(row: Head) -> str:
    state = castings.state_of(row)
    return "" if state is CastingState.UNKNOWN else translated(state)


def _head_words(row: Head) -> str:
    owner = heads.owner(row)
    parts = (
        row.identity,
        row.engine_type.title,
        gettext("of {owner}", owner=owner.name) if owner else "",
        ngettext("here {num} time before", "here {num} times before", len(row.visits))
        if row.visits
        else "",
        _state_words(row),
        "" if row.status is HeadStatus.IN_USE else translated(row.status),
    )
    return gettext("Yes: ") + ", ".join(part for part in parts if part)
