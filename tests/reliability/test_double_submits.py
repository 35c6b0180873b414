"""One form sent six times at the same moment over sockets, on both databases: one record."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from sqlalchemy import func, select

from shopflow.database import session_factory
from shopflow.models import Customer, OutgoingMail, Payment, Quote
from tests import factories
from tests.reliability.conftest import ShopCopy
from tests.reliability.serving import Answer, serving, typed_in, until_taken

pytestmark = pytest.mark.slow

TIMES = 6


def an_open_job(shop_copy: ShopCopy) -> str:
    """Number of a job that can be quoted, paid for and written about."""
    engine = shop_copy.engine()
    with session_factory(engine).begin() as db:
        visit = factories.create_visit(db, customer=factories.create_customer(db, name="Orla"))
        visit.job.customer.email = "orla@boats.example"
        factories.create_operation(db, visit, "teardown", price="100.00")
        number = visit.job.number
    engine.dispose()
    return number


def count(shop_copy: ShopCopy, noun: type) -> int:
    engine = shop_copy.engine()
    with session_factory(engine)() as db:
        rows = db.scalar(select(func.count()).select_from(noun)) or 0
    engine.dispose()
    return rows


FORMS = {
    "payment": (Payment, "/jobs/{job}/money/payments/new", {"amount": "40.00", "method": "cash"}),
    "mail": (
        OutgoingMail,
        "/jobs/{job}/write",
        {"subject": "Your heads", "body": "Done."},
    ),
    "customer": (Customer, "/customers/new", {"name": "Orla Finch of the Six"}),
    "quote": (Quote, "/jobs/{job}/quote", {}),
}


def test_six_posts_of_one_form_at_once_save_one_record_and_lead_to_it(shop_copy: ShopCopy):
    job = an_open_job(shop_copy)
    with serving(shop_copy.folder, shop_copy.url) as server:
        browser = shop_copy.someone(server)
        for name, (noun, address, values) in FORMS.items():
            path = address.format(job=job)
            form = typed_in(browser.get(path).text, path) | values
            before, together = count(shop_copy, noun), Barrier(TIMES)

            def send(_: int, path=path, form=form, together=together) -> Answer:
                together.wait()
                return until_taken(lambda: browser.post(path, form))

            with ThreadPoolExecutor(TIMES) as pool:
                answers = list(pool.map(send, range(TIMES)))
            assert {answer.status for answer in answers} == {302}, (name, answers)
            assert len({answer.headers["Location"] for answer in answers}) == 1, name
            assert count(shop_copy, noun) == before + 1, name
            # Long after, too.
            assert browser.post(path, form).headers["Location"] == answers[0].headers["Location"]
            assert count(shop_copy, noun) == before + 1, name
        assert "Traceback" not in server.log.read_text()
