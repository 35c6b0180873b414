"""Correcting, withdrawing and restoring flow tests in the browser."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from sqlalchemy.orm import Session

from shopflow import issuing, testfile
from shopflow.models import BenchSession, Visit
from shopflow.services import withdrawals
from shopflow.services.bench import sessions
from shopflow.services.certificates import drafts
from shopflow.web.api.shapes import SessionSummary
from shopflow.web.bench.withdrawals.forms import fits_the_form
from tests import factories
from tests.cli.sessions import ALL, EXTENDED, INTAKE_US
from tests.factories import BY, create_visit
from tests.web.client import Client

REASON = "the exhaust valve was on the bench"
SAVE = {"save": "Save correction"}


@pytest.fixture
def visit(db: Session) -> Visit:
    return create_visit(db)


@pytest.fixture
def row(db: Session, visit: Visit) -> BenchSession:
    stored = sessions.store(db, BY, visit, testfile.loads(INTAKE_US))
    db.flush()
    return stored


def test_a_test_is_withdrawn_with_a_reason_and_restored(client: Client, db, visit, row):
    page = client.page(f"/flow-tests/{row.id}")
    assert {"Correct test", "Withdraw test"} <= page.links.keys()
    refused = client.submit(f"/flow-tests/{row.id}/withdraw", {"reason": ""}, status=422)
    assert refused.fault("reason")
    page = client.submit(f"/flow-tests/{row.id}/withdraw", {"reason": REASON})
    assert REASON in page.text
    assert page.tree.findall(".//h1/s")
    assert "Withdraw test" not in page.links
    shown = client.page(f"/heads/{visit.tag}")
    assert "Withdrawn" in shown.text
    assert shown.tree.xpath("//s//a[contains(@href, $at)]", at=f"/flow-tests/{row.id}")
    page = client.submit(page, action=f"/flow-tests/{row.id}/restore")
    assert "counts again" in page.notices[0]
    assert not page.tree.findall(".//h1/s")


def test_the_form_of_a_correction_holds_the_test_as_typed(client: Client, visit, row):
    page = client.page(f"/flow-tests/{row.id}/correct")
    document = sessions.document(row)
    assert page.value("rows-0-lift") == str(document.lifts[0])
    assert page.value("rows-0-first") == str(document.flows[0][0])
    assert page.value("air-barometer") == document.barometer.text
    page = client.submit(page, {"reason": "no", **SAVE}, status=422)
    assert "nothing was changed" in page.alerts.lower()


def test_a_correction_saves_the_test_anew_and_says_so_on_both(client: Client, db, visit, row):
    key = row.id
    page = client.page(f"/flow-tests/{key}/correct")
    values = {"side": "exhaust", "cylinder": "3", "rows-0-first": "44.4", "reason": REASON, **SAVE}
    assert client.submit(page, {**values, "reason": ""}, status=422).fault("reason")
    new = client.submit(page, values)
    assert new.path != f"/flow-tests/{key}"
    assert "Exhaust" in new.heading
    assert f"Reason: {REASON}" in new.text
    old = client.page(f"/flow-tests/{key}")
    assert old.links["Open the corrected test"] == new.path
    assert "it no longer counts" in old.text
    # Sent twice it is saved once.
    db.expire_all()
    assert len(visit.sessions) == 1
    history = client.page(f"/jobs/{visit.job.number}").text
    assert REASON in history
    assert "intake" in history


def test_a_certificate_says_that_it_rests_on_the_earlier_version(client: Client, db, visit, row):
    writer, checker = factories.someone(db), factories.someone(db, "Ida Fell")
    draft = drafts.check(db, checker, drafts.write(db, writer, visit, [row]))
    certificate = issuing.issue_certificate(db, writer, draft)
    db.flush()
    page = client.page(f"/flow-tests/{row.id}/correct")
    new = client.submit(page, {"cylinder": "3", "reason": "cylinder", **SAVE})
    words = f"{certificate.title} is based on that earlier version"
    assert words in new.text
    assert (
        f"{certificate.title} is based on this earlier version"
        in client.page(f"/flow-tests/{row.id}").text
    )
    shown = client.page(f"/certificates/{certificate.number}/{certificate.revision}")
    assert "corrected since" in shown.text


@pytest.mark.parametrize("name", [*ALL, *EXTENDED])
def test_a_form_that_holds_a_test_reads_back_the_very_same(name: str):
    text = {**ALL, **EXTENDED}[name]
    document = testfile.loads(text)
    most = max(map(len, document.flows))
    assert fits_the_form(document) or most > 3 or document.pressures or document.excluded


def test_a_test_with_more_runs_than_the_form_has_is_corrected_by_its_file(
    client: Client, db, visit
):
    document = testfile.loads(INTAKE_US)
    runs = (document.flows[0][0],) * 4
    text = testfile.dumps(document)
    wide = replace(document, flows=(runs, *document.flows[1:]))
    row = sessions.store(db, BY, visit, wide)
    db.flush()
    page = client.page(f"/flow-tests/{row.id}/correct")
    assert "Correct it in its file" in page.text
    action = f"/flow-tests/{row.id}/correct/file"
    upload = (io.BytesIO(text.encode()), "test.toml")
    assert client.submit(page, {"reason": REASON, "file": None}, action=action, status=422)
    new = client.submit(page, {"reason": REASON, "file": upload}, action=action)
    assert f"Reason: {REASON}" in new.text


def test_a_correction_keeps_the_runs_that_were_left_out(client: Client, db, visit, row):
    reading = row.lifts[1].readings[0]
    sessions.exclude(db, BY, reading, "clay fell off")
    db.flush()
    page = client.page(f"/flow-tests/{row.id}/correct")
    client.submit(page, {"cylinder": "3", "reason": "cylinder", **SAVE})
    db.expire_all()
    (new,) = visit.sessions
    assert sessions.document(new).excluded == sessions.document(row).excluded


def test_the_interface_says_that_a_test_is_withdrawn(client: Client, db, visit, row):
    withdrawals.withdraw(db, BY, row, REASON)
    answer = SessionSummary.of(row)
    assert (answer.withdrawn_at, answer.withdrawal_reason, answer.replaced_by) == (
        BY.at,
        REASON,
        None,
    )


def test_a_draft_whose_tests_were_all_withdrawn_says_what_to_do(client: Client, db, visit, row):
    draft = drafts.write(db, factories.someone(db), visit, [row])
    withdrawals.withdraw(db, BY, row, REASON)
    db.flush()
    page = client.page(f"/certificate-drafts/{draft.id}")
    assert "Every flow test of this draft was withdrawn" in page.text
    client.page(f"/certificate-drafts/{draft.id}.pdf", status=409)
