"""Labels and bench cards from the job's page."""

from __future__ import annotations

import io

import pymupdf
import pytest
from sqlalchemy.orm import Session

from shopflow.models import Job, Shop
from shopflow.services.paperwork import labels
from tests import factories
from tests.web.client import Client


@pytest.fixture
def job(db: Session, shop: Shop) -> Job:
    """A job of two heads."""
    return factories.create_job(db, head_count=2)


def test_labels_are_printed_from_the_first_free_place(client: Client, job: Job):
    page = client.page(f"/jobs/{job.number}/labels")
    form = dict(page.form().form_values()) | {"label": "a4-24", "start": "24", "copies": "1"}
    response = client.post(f"/jobs/{job.number}/labels", data=form)
    printed = client.get(response.headers["Location"])
    with pymupdf.open(stream=io.BytesIO(printed.data)) as pdf:
        first, second = (page.get_text() for page in pdf)
    assert job.heads[0].tag in first
    assert job.heads[1].tag in second


@pytest.mark.parametrize(
    ("typed", "field"),
    [({"start": "25", "label": "a4-24"}, "start"), ({"start": "2", "label": "62x29"}, "start"),
     ({"copies": "21"}, "copies"), ({"start": "one"}, "start")],
)  # fmt: skip
def test_a_place_that_is_not_there_is_refused(
    client: Client, job: Job, typed: dict[str, str], field: str
):
    page = client.submit(f"/jobs/{job.number}/labels", typed, status=422)
    assert page.fault(field)


def test_an_address_that_asks_for_the_impossible_is_no_failure(client: Client, job: Job):
    address = f"/papers/labels/{job.number}.pdf"
    for query in ("label=none", "start=0", "start=99999999999", "copies=-1", "start=x&copies=y"):
        assert client.get(f"{address}?{query}").status_code in (200, 422)


def test_the_bench_card_is_a_page_a_head(client: Client, job: Job):
    response = client.get(f"/papers/bench-card/{job.number}.pdf")
    with pymupdf.open(stream=io.BytesIO(response.data)) as pdf:
        assert len(pdf) == 2
        assert job.heads[1].tag in pdf[1].get_text()


def test_a_labels_code_opens_the_head_and_an_old_labels_the_job(
    client: Client, db: Session, shop: Shop
):
    shop.web_address = "https://shop.example"
    job = factories.create_job(db, head_count=2)
    codes = [tag.url for tag in labels.sheet(db, job.heads).tags]
    assert codes == [f"https://shop.example/heads/{visit.tag}" for visit in job.heads]
    assert client.page(codes[1].removeprefix("https://shop.example")).heading == job.heads[1].tag
    assert client.page(f"/jobs/{job.number}").heading == f"Job {job.number}"
