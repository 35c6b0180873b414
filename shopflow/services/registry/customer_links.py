"""A customer's private links: making, revoking and opening them."""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Mapping
from datetime import datetime, timedelta

from sqlalchemy import select, update
from sqlalchemy.orm import Session

from shopflow.errors import FieldError, NotFoundError, RuleError, ValidationError
from shopflow.models import CustomerLink, Job
from shopflow.models.customer_link import WHOLE
from shopflow.services import audit_log
from shopflow.services.actor import Actor
from shopflow.services.shop.settings import get_shop
from shopflow.texts import gettext, ngettext

TOKEN_BYTES = 32
LASTS = (7, 30, 90, 365)
"""Days a link may last; the usual one is the second."""

USUAL = LASTS[1]


def get(db: Session, link_id: int) -> CustomerLink:
    """The link with this key. Raises NotFoundError."""
    link = db.get(CustomerLink, link_id)
    if link is None:
        raise NotFoundError(gettext("this link does not exist"))
    return link


def make(
    db: Session,
    by: Actor,
    job: Job,
    days: int = USUAL,
    *,
    shows_prices: bool = False,
    certificates: Mapping[str, str] | None = None,
) -> tuple[CustomerLink, str]:
    """Create a link to a job; return it and its address, which is never shown again.

    `certificates` says by number how much is shown of each: WHOLE, NO_CURVE or HIDDEN; one not
    named, as those issued later, is shown whole. Raises ValidationError at `days`; RuleError where
    the shop has not said where it is reached.
    """
    if days not in LASTS:
        raise ValidationError(
            [FieldError("days", gettext("one of {map} days", map=", ".join(map(str, LASTS))))]
        )
    web = get_shop(db).web_address
    if not web:
        raise RuleError(
            gettext("the address of this app is not set: enter it in the shop settings first")
        )
    token = secrets.token_urlsafe(TOKEN_BYTES)
    link = CustomerLink(
        job=job,
        token_sha256=digest(token),
        shows_prices=shows_prices,
        held_back={
            number: display for number, display in (certificates or {}).items() if display != WHOLE
        },
        made_at=by.at,
        made_by_id=by.person_id,
        expires_at=by.at + timedelta(days=days),
    )
    db.add(link)
    note = (
        ngettext("for {num} day, with prices", "for {num} days, with prices", days)
        if shows_prices
        else ngettext("for {num} day", "for {num} days", days)
    )
    audit_log.record(db, by, link, "made", job=job, note=note)
    return link, f"{web}/c/{token}"


def revoke(db: Session, by: Actor, link: CustomerLink) -> None:
    """Shut a link for good. Raises RuleError where it is shut already."""
    if link.revoked_at is not None:
        raise RuleError(gettext("the link is revoked already"))
    link.revoked_at = by.at
    audit_log.record(db, by, link, "revoked", job=link.job)


def opened_by(db: Session, token: str, now: datetime) -> CustomerLink:
    """The link a token opens. Raises NotFoundError alike for wrong, expired and revoked ones."""
    query = select(CustomerLink).where(CustomerLink.token_sha256 == digest(token))
    link = db.scalars(query).one_or_none()
    if link is None or not link.opens(now):
        raise NotFoundError(gettext("this link does not work: ask the shop for a new one"))
    return link


def count_opening(db: Session, link_id: int, now: datetime) -> None:
    """Note that a link's page was opened."""
    db.execute(
        update(CustomerLink)
        .where(CustomerLink.id == link_id)
        .values(openings=CustomerLink.openings + 1, last_opened_at=now)
        .execution_options(synchronize_session=False)
    )


def digest(token: str) -> str:
    """SHA-256 of a secret, stored in its stead."""
    # The token holds 256 random bits: a plain hash tells nothing of it, and needs no salt.
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()
