"""Flow tests being taken: shown where people look, discarded once confirmed, restored."""

from __future__ import annotations

import pytest
from sqlalchemy.orm import Session

from shopflow.models import JobHead
from shopflow.services import opentests
from tests.factories import BY, create_visit
from tests.web.client import Client

TYPED = {"side": "intake", **{f"rows-{row}-first": "47.8" for row in range(10)}}
WORDS = "Continue the intake test, 10 readings"


@pytest.fixture
def visit(db: Session) -> JobHead:
    """A head with an unfinished test."""
    visit = create_visit(db)
    opentests.keep(db, BY, visit, key="k", writer="w", seen=0, typed=TYPED)
    return visit


def test_an_unfinished_test_is_shown_on_the_floor_the_head_and_the_job(client: Client, visit):
    for address in (
        "/",
        f"/heads/{visit.tag}",
        f"/heads/{visit.head_id}",
        f"/jobs/{visit.job.number}",
    ):
        page = client.page(address)
        assert page.links.get(WORDS) == f"/heads/{visit.tag}/test", address
        assert "begun 5 Mar 2026" in page.text


def test_discarding_asks_first_and_can_be_undone(client: Client, db: Session, visit):
    page = client.page(f"/heads/{visit.tag}/test")
    asked = client.page(page.links["Discard and start over"])
    assert "Intake test, 10 readings" in asked.text
    assert opentests.of_head(db, visit) is not None
    page = client.submit(asked)
    assert WORDS not in page.links
    assert "intake test, 10 readings" in page.text
    (discarded,) = visit.discarded_tests
    page = client.submit(page, action=f"/discarded-tests/{discarded.id}/restore")
    assert page.value("rows-9-first") == "47.8"
    client.page(f"/jobs/{visit.job.number}")


def test_discarding_what_is_not_there_says_so(client: Client, db: Session):
    visit = create_visit(db)
    response = client.get(f"/heads/{visit.tag}/test/discard", follow_redirects=True)
    assert "No flow test of this head is being taken." in response.text
