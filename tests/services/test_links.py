"""Private links: what opens them, and what does not."""

from __future__ import annotations

import hashlib
from datetime import timedelta

import pytest
from sqlalchemy import select, text

from shopflow.errors import NotFoundError, RuleError, ValidationError
from shopflow.models import CustomerLink
from shopflow.services import audit_log
from shopflow.services.registry import customer_links
from shopflow.services.shop import settings
from tests.factories import BY, NOW, create_job, shop_or_none


@pytest.fixture
def job(db):
    new_job = create_job(db)
    settings.change(db, BY, shop_or_none(db), {"web_address": "https://heads.example/"})
    return new_job


def token_of(address: str) -> str:
    return address.rpartition("/c/")[2]


def test_a_link_opens_its_job_and_only_its_hash_is_kept(db, job):
    link, address = customer_links.make(db, BY, job)
    token = token_of(address)
    assert address == f"https://heads.example/c/{token}"
    # 32 random bytes in base 64, RFC 4648 section 5, are 43 characters.
    assert len(token) == 43
    assert customer_links.opened_by(db, token, NOW).job is job
    # FIPS 180-4 by the standard library.
    assert link.token_sha256 == hashlib.sha256(token.encode()).hexdigest()
    for table in ("customer_link", "event", "outgoing_mail"):
        rows = db.execute(text(f"SELECT * FROM {table}")).all()
        assert token not in repr(rows)


def test_no_two_links_are_alike(db, job):
    assert len({customer_links.make(db, BY, job)[1] for _ in range(50)}) == 50


@pytest.mark.parametrize("wrong", ["", "x", "A" * 43, "é" * 43, "\udcff", "9" * 5000])
def test_a_wrong_token_opens_nothing(db, job, wrong):
    customer_links.make(db, BY, job)
    with pytest.raises(NotFoundError):
        customer_links.opened_by(db, wrong, NOW)


def test_a_hash_is_not_a_key(db, job):
    link, _ = customer_links.make(db, BY, job)
    with pytest.raises(NotFoundError):
        customer_links.opened_by(db, link.token_sha256, NOW)


def test_it_opens_until_it_expires(db, job):
    _, address = customer_links.make(db, BY, job, days=7)
    token = token_of(address)
    assert customer_links.opened_by(db, token, NOW + timedelta(days=7) - timedelta(seconds=1))
    with pytest.raises(NotFoundError):
        customer_links.opened_by(db, token, NOW + timedelta(days=7))


def test_a_revoked_link_opens_nothing_ever_again(db, job):
    link, address = customer_links.make(db, BY, job)
    other, other_address = customer_links.make(db, BY, job)
    customer_links.revoke(db, BY, link)
    with pytest.raises(NotFoundError):
        customer_links.opened_by(db, token_of(address), NOW)
    assert customer_links.opened_by(db, token_of(other_address), NOW) is other
    with pytest.raises(RuleError, match="revoked already"):
        customer_links.revoke(db, BY, link)
    names = {entry.verb for entry in audit_log.of_job(db, job) if entry.subject == "customer_link"}
    assert names == {"made", "revoked"}


def test_openings_are_counted(db, job):
    link, _ = customer_links.make(db, BY, job)
    for days in (1, 2):
        customer_links.count_opening(db, link.id, NOW + timedelta(days=days))
    db.expire_all()
    customer_link = db.scalars(select(CustomerLink)).one()
    assert (customer_link.openings, customer_link.last_opened_at) == (2, NOW + timedelta(days=2))


def test_a_link_needs_the_address_of_the_app_and_a_known_time(db):
    job = create_job(db)
    with pytest.raises(RuleError, match="address of this app"):
        customer_links.make(db, BY, job)
    with pytest.raises(ValidationError, match="one of 7, 30, 90, 365 days"):
        customer_links.make(db, BY, job, days=10_000)
