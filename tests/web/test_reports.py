"""Reports in the browser."""

from __future__ import annotations

import csv
import io
from datetime import UTC, datetime
from decimal import Decimal

import pytest

from shopflow import issuing
from shopflow.models import Role
from shopflow.services.actor import Actor
from shopflow.services.billing import invoices, payments
from shopflow.services.routing import operations
from tests import factories
from tests.factories import (
    create_engine_type,
    create_job,
    create_operation,
    create_session,
    someone,
)

MARCH = "from=2026-03-01&to=2026-04-30"
NAMES = ("jobs", "turnaround", "hours", "gains", "money/revenue", "money/takings", "money/tax")


def rows_of(answer):
    assert answer.mimetype == "text/csv"
    text = answer.data.decode("utf-8-sig")
    return list(csv.reader(io.StringIO(text)))


@pytest.fixture
def job(db):
    """A job with two tests of a port, a step signed off and an invoice."""
    by = someone(db, "Orla Marsh", Role.OWNER)
    kind = create_engine_type(db, builder="=HYPERLINK(1)", family="K18")
    job = create_job(db, engine_type=kind, promised_on="2026-03-04")
    factories.approve(db, by, job, "Orla Finch", "telephone")
    for _ in range(2):
        create_session(db, job.heads[0])
    step = create_operation(db, job.heads[0], planned_minutes="60", price="99.50")
    factories.agree(db, by, step)
    operations.start(db, by, step)
    operations.sign_off(db, by, step, {"actual_minutes": "90"})
    issuing.issue_invoice(db, by, job)
    payments.record(db, by, job, {"amount": "10.00", "method": "cash"})
    return job


@pytest.mark.parametrize("name", NAMES)
def test_every_report_has_a_chart_a_table_and_the_same_as_csv(client, job, name):
    page = client.page(f"/reports/{name}?from=2020-01-01&to=2026-12-31")
    assert page.tree.find_class("chart-box")
    link = page.links["Download CSV"]
    rows = rows_of(client.get(link))
    headings = [cell.text_content() for cell in page.tree.findall(".//thead//th")]
    assert [name.casefold() for name in rows[0]] == [name.casefold() for name in headings]
    assert len(rows) - 1 == len(page.rows) > 0


@pytest.mark.parametrize("name", NAMES)
def test_a_shop_with_nothing_yet_is_answered(client, db, name):
    page = client.page(f"/reports/{name}")
    assert page.value("from")
    assert page.value("to")
    rows_of(client.get(f"/reports/{name}.csv"))


def test_the_figures_are_those_put_in(client, job):
    assert ["2026-03", "1", "0", "0"] in client.page(f"/reports/jobs?{MARCH}").rows
    (row,) = client.page(f"/reports/hours?{MARCH}").rows
    assert row == ["Flow-test", "1", "1", "1", "1.5", "+50.0"]
    row = client.page(f"/reports/money/revenue?{MARCH}").rows[0]
    assert row == ["2026-03", "1", "$99.50", "$0.00", "$99.50"]
    assert rows_of(client.get(f"/reports/money/revenue.csv?{MARCH}"))[1][2:] == [
        "99.50",
        "0.00",
        "99.50",
    ]


def test_what_a_spreadsheet_would_run_is_disarmed(client, job):
    # OWASP, CSV injection: a cell must not begin with =.
    rows = rows_of(client.get("/reports/gains.csv?from=2020-01-01&to=2026-12-31"))
    assert rows[1][0] == "'=HYPERLINK(1) K18"


def test_figures_below_zero_stay_figures(client, db, job):
    by = Actor(someone(db, "Ines Hale", Role.OWNER).person, datetime(2026, 4, 2, tzinfo=UTC))
    issuing.issue_credit_note(db, by, invoices.of_job(db, job)[0], "wrong customer")
    april = rows_of(client.get(f"/reports/money/revenue.csv?{MARCH}"))[2]
    assert Decimal(april[-1]) == Decimal("-99.50")


@pytest.mark.parametrize(
    ("query", "field", "words"),
    [
        ("from=soon", "from", "not a date"),
        ("from=2026-03-02&to=2026-03-01", "to", "before the first"),
        ("from=1990-01-01&to=2026-03-01", "from", "t most ten years"),
    ],
)
def test_a_period_that_cannot_be_is_said_at_its_field(client, job, query, field, words):
    page = client.page(f"/reports/jobs?{query}", 422)
    assert words in page.fault(field)
    assert "Correct the period" in page.text
    assert client.get(f"/reports/jobs.csv?{query}").status_code == 302
    assert client.get(f"/reports/money/revenue.csv?{query}").status_code == 302


def test_an_unknown_report_is_not_found(client):
    assert client.get("/reports/weather").status_code == 404
    assert client.get("/reports/weather.csv").status_code == 404


def test_revenue_is_for_the_office(signed_in, job):
    machinist = signed_in(Role.MACHINIST)
    assert "Revenue by month" not in machinist.page("/reports").links
    assert machinist.get("/reports/money/revenue").status_code == 403
    assert machinist.get("/reports/money/revenue.csv").status_code == 403
    assert machinist.page("/reports").path.startswith("/reports/jobs")
    assert "Revenue by month" in signed_in(Role.COUNTER).page("/reports").links
