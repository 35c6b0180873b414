"""Calendar feeds: who may open them, and what they give."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from sqlalchemy.orm import Session

from shopflow import issuing
from shopflow.errors import NotFoundError
from shopflow.services.actor import Actor
from shopflow.services.jobs import jobs
from shopflow.services.messaging import feeds
from tests import factories
from tests.optional import present
from tests.services.expecting import assert_logged, refused


def test_a_feed_opens_until_it_is_renewed_or_revoked(db: Session, machinist: Actor):
    person = present(machinist.person)
    first, token = feeds.make(db, machinist, person)
    assert feeds.opened_by(db, token) is first
    assert token not in repr(vars(first))
    second, renewed = feeds.make(db, machinist, person)
    assert_logged(db, second, machinist, "renewed")
    assert feeds.of_person(db, person) is second
    assert feeds.opened_by(db, renewed) is second
    for wrong in (token, "", "x", renewed[:-1], renewed + "a"):
        with pytest.raises(NotFoundError):
            feeds.opened_by(db, wrong)
    feeds.revoke(db, machinist, person)
    with pytest.raises(NotFoundError):
        feeds.opened_by(db, renewed)
    with refused("no calendar address"):
        feeds.revoke(db, machinist, person)


def test_the_feed_of_someone_who_left_opens_nothing(db: Session, machinist: Actor):
    person = present(machinist.person)
    _, token = feeds.make(db, machinist, person)
    person.active = False
    db.flush()
    with pytest.raises(NotFoundError):
        feeds.opened_by(db, token)


def test_it_gives_open_jobs_with_a_promise_soonest_first(db: Session, by: Actor):
    later = factories.create_job(db, promised_on="2026-04-02", head_count=2)
    soon = factories.create_job(db, promised_on="2026-03-20")
    factories.create_job(db)
    gone = factories.create_job(db, promised_on="2026-03-19")
    jobs.cancel(db, by, gone, "sold")
    db.expire_all()
    first, second = feeds.promises(db, names=False)
    assert (first.day, second.day) == (date(2026, 3, 20), date(2026, 4, 2))
    assert first.title.startswith(f"{soon.number}: Hollin K")
    assert f"{later.number}-A, {later.number}-B" in second.about
    assert soon.customer.name not in f"{first.title} {first.about}"
    assert first.address == ""
    assert feeds.promises(db, names=True)[0].title.endswith(soon.customer.name)


def test_an_event_keeps_its_identity_and_counts_its_changes(db: Session, by: Actor):
    job = factories.create_job(db, promised_on="2026-03-20")
    (before,) = feeds.promises(db, names=False)
    later = Actor(None, by.at + timedelta(hours=2))
    jobs.change(db, later, job, {"promised_on": "2026-03-27"})
    db.flush()
    (after,) = feeds.promises(db, names=False)
    assert after.uid == before.uid
    assert after.sequence == before.sequence + 1
    assert (before.changed_at, after.changed_at) == (by.at, later.at)
    other = factories.create_job(db, promised_on="2026-03-28")
    assert feeds.promises(db, names=False)[1].uid != after.uid
    factories.create_operation(db, other.heads[0])
    issuing.give_quote(db, by, other, {})
