"""Confirmations that tests on unlike set-ups are meant to be compared, each logged."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

from sqlalchemy.orm import Session

from shopflow import set_up_words, texts
from shopflow.errors import RuleError
from shopflow.models import BenchSession, SetUpConfirmation
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.bench import sessions
from shopflow.services.bench.set_ups import confirmation, plain, unlike
from shopflow.services.shop.settings import get_shop, zone
from shopflow.texts import gettext

SPECIFICATION: fields.Specification = {
    "reason": fields.text(required=True),
    "is_same": fields.flag(),
}


def unconfirmed(rows: Sequence[BenchSession]) -> list[tuple[BenchSession, BenchSession]]:
    """The pairs of tests of one side on unlike set-ups that nobody confirmed."""
    return [
        (first, other)
        for first, other in combinations(rows, 2)
        if first.side == other.side and unlike(first, other) and not confirmation(first, other)
    ]


def among(db: Session, rows: Sequence[BenchSession]) -> list[str]:
    """The confirmations among these tests as sentences, each once."""
    pairs = (confirmation(*pair) for pair in combinations(rows, 2))
    return list(dict.fromkeys(in_words(db, item) for item in pairs if item is not None))


def confirm(
    db: Session, by: Actor, rows: Sequence[BenchSession], reason: str, *, is_same: bool
) -> list[SetUpConfirmation]:
    """Confirm that tests on unlike set-ups are meant to be compared, each pair of them.

    Raises ValidationError at `reason`; RuleError where nothing is to be confirmed, or set-ups
    that are both stated and differ are said to be the same.
    """
    clean = fields.read(SPECIFICATION, {"reason": reason, "is_same": is_same})
    pairs = unconfirmed(rows)
    if not pairs:
        raise RuleError(gettext("the set-ups of these tests need no confirmation"))
    if is_same and any(not item.is_half_stated for pair in pairs for item in unlike(*pair)):
        raise RuleError(
            gettext(
                "both tests state their set-up and they differ: correct the test that is wrong, "
                "or confirm the difference as meant"
            )
        )
    items = [_confirm(db, by, first, other, clean) for first, other in pairs]
    for visit in {row.job_head for pair in pairs for row in pair}:
        sessions.renew_summaries(db, visit)
    return items


def in_words(db: Session, item: SetUpConfirmation) -> str:
    """A confirmation as a sentence."""
    day = item.confirmed_at.astimezone(zone(get_shop(db))).date()
    name = item.confirmed_by.name if item.confirmed_by else gettext("the shop")
    return set_up_words.confirmed(item.is_same, item.reason, name, texts.day(day))


def _confirm(
    db: Session, by: Actor, first: BenchSession, other: BenchSession, clean: dict[str, object]
) -> SetUpConfirmation:
    """Record one pair at the test that states its set-up, the later one where both do."""
    row, of = sorted((first, other), key=lambda test: (bool(plain(test).stated), test.id))[::-1]
    item = SetUpConfirmation(
        session=row, other=of, confirmed_at=by.at, confirmed_by_id=by.person_id, **clean
    )
    db.add(item)
    note = f"{set_up_words.difference(unlike(of, row))}; {clean['reason']}"
    audit_log.record(db, by, item, "confirmed", job=row.job_head.job, note=note)
    return item
