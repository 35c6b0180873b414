"""Flow tests withdrawn, restored and corrected: kept on file, counted nowhere."""

from __future__ import annotations

import dataclasses
import re
from datetime import date
from decimal import Decimal
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from sqlalchemy.orm import Session

import shopflow
from shopflow import issuing, testfile
from shopflow.errors import NotFoundError
from shopflow.files import FileStore
from shopflow.models import BenchSession, Visit
from shopflow.services import withdrawals
from shopflow.services.actor import Actor
from shopflow.services.analysis import gain_by_step, gains, test_choice
from shopflow.services.bench import bands, past_tests, reference_curves, sessions
from shopflow.services.bench.past_tests import Wanted
from shopflow.services.bench.summaries import flow_shown
from shopflow.services.certificates import drafts
from shopflow.services.integrity.examine import examine
from shopflow.services.search import past_jobs
from shopflow.services.shop.periods import Period
from tests import factories
from tests.cli.sessions import AFTER_US, INTAKE_US
from tests.factories import BY, NOW
from tests.services.expecting import assert_logged, faults_at, last_entry, refused

UTC_ZONE = ZoneInfo("UTC")
REASON = "the exhaust valve was on the bench"


@pytest.fixture
def visit(db: Session) -> Visit:
    """A head tested twice on its intake."""
    visit = factories.create_visit(db)
    factories.create_session(db, visit, INTAKE_US)
    factories.create_session(db, visit, AFTER_US)
    db.flush()
    return visit


@pytest.fixture
def last(visit: Visit) -> BenchSession:
    """Its second test."""
    return visit.sessions[-1]


def corrected(row: BenchSession, **values) -> testfile.SessionDocument:
    return dataclasses.replace(sessions.document(row), **values)


def test_a_withdrawn_test_counts_nowhere_and_stays_on_file(
    db: Session, visit: Visit, last: BenchSession, tmp_path: Path
):
    first = visit.sessions[0]
    engine_type = visit.head.engine_type
    assert len(past_tests.of_engine_types(db, [engine_type], Wanted())) == 2
    withdrawals.withdraw(db, BY, last, REASON)
    assert_logged(db, last, BY, "withdrawn", withdrawal_reason=["", REASON])
    db.expire_all()
    assert visit.sessions == [first]
    assert visit.withdrawn_sessions == [last]
    assert [
        item.session_id for item in past_tests.of_engine_types(db, [engine_type], Wanted())
    ] == [first.id]
    assert bands.best_test(db, engine_type, "intake") == first.id
    assert gain_by_step.of_head(visit) == []
    assert [one.session_id for one in reference_curves.offered(db, visit)] == [first.id]
    assert gains.by_engine_type(db, Period(date(2000, 1, 1), date(2030, 1, 1), UTC_ZONE)) == []
    assert test_choice.first_and_last(visit) == [first]
    assert test_choice.latest_of_ports([visit]) == [first]
    assert sessions.latest(db, visit) is first
    engine_types = past_jobs.of_engine_types(db, [engine_type])
    assert engine_types[0].gain_percent is None
    assert engine_types[0].best_intake_flow == pytest.approx(
        flow_shown(first.peak_area, first.side)
    )
    with pytest.raises(NotFoundError, match=f"flow test {last.id} was withdrawn"):
        test_choice.chosen(db, [last.id])
    assert sessions.get(db, last.id) is last
    assert all(
        not row.faults for row in examine(db, FileStore(tmp_path)) if "summaries" in row.what
    )


def test_the_notes_of_a_withdrawn_test_find_no_job(db: Session, visit, last):
    document = corrected(last, notes="bluewater clay in the entry", cylinder="3")
    row = sessions.store(db, BY, visit, document)
    db.flush()
    assert [past.tag for past in past_jobs.past_jobs(db, "bluewater")] == [visit.tag]
    withdrawals.withdraw(db, BY, row, REASON)
    assert past_jobs.past_jobs(db, "bluewater") == []


def test_a_withdrawn_first_test_gives_no_gain_and_restoring_brings_it_back(
    db: Session, visit, last
):
    gain = last.gain_over_first
    assert gain is not None
    first = visit.sessions[0]
    withdrawals.withdraw(db, BY, first, REASON)
    assert last.gain_over_first is None
    withdrawals.restore(db, BY, first)
    assert last.gain_over_first == gain
    assert visit.sessions == [first, last]
    assert last_entry(db, first).verb == "restored"


def test_withdrawing_asks_for_a_reason_and_is_done_once(db: Session, last):
    with faults_at("reason"):
        withdrawals.withdraw(db, BY, last, "  ")
    with refused("counts already"):
        withdrawals.restore(db, BY, last)
    withdrawals.withdraw(db, BY, last, REASON)
    with refused("restore it first"):
        withdrawals.withdraw(db, BY, last, REASON)
    with refused("was withdrawn"):
        sessions.exclude(db, BY, last.lifts[0].readings[0], "clay")


def test_a_test_that_was_entered_again_is_not_restored_beside_it(db: Session, visit, last):
    document = corrected(last, measured_at=NOW, cylinder="4")
    row = sessions.store(db, BY, visit, document)
    withdrawals.withdraw(db, BY, row, REASON)
    sessions.store(db, BY, visit, document)
    with refused("on record for"):
        withdrawals.restore(db, BY, row)


def test_a_correction_replaces_the_test_and_the_log_says_from_what_to_what(
    db: Session, visit, last
):
    old_entry = (last.entered_at, last.entered_by_id)
    document = corrected(
        last, side="exhaust", cylinder="3", flows=((Decimal("61.0"),), *last_flows(last)[1:])
    )
    by = factories.someone(db)
    new = withdrawals.correct(db, by, last, document, None, "wrong side", "key-1")
    assert (new.side, new.cylinder, new.entry_key) == ("exhaust", "3", "key-1")
    assert (new.entered_at, new.entered_by_id) == old_entry
    assert visit.sessions[-1] is new
    assert (last.counts, last.replaced_by) == (False, new)
    entry = last_entry(db, new)
    assert (entry.verb, entry.note, entry.person_id) == ("corrected", "wrong side", by.person_id)
    assert entry.changes["side"] == ["intake", "exhaust"]
    lift = f"readings at lift {document.lifts[0]}"
    assert entry.changes[lift][1] == "61.0"
    assert "barometer" not in entry.changes
    assert test_choice.chosen(db, [last.id, new.id]) == [new]
    assert withdrawals.current(last) is new
    assert withdrawals.earlier_versions(db, new) == [last]
    with refused("was corrected"):
        withdrawals.restore(db, BY, last)


def last_flows(row: BenchSession) -> tuple[tuple[Decimal, ...], ...]:
    return sessions.document(row).flows


def test_a_correction_needs_a_reason_and_a_change(db: Session, last):
    same = sessions.document(last)
    with refused("nothing was changed"):
        withdrawals.correct(db, BY, last, same, last.after_operation, "why not")
    with faults_at("reason"):
        withdrawals.correct(db, BY, last, corrected(last, cylinder="3"), None, "")
    withdrawals.withdraw(db, BY, last, REASON)
    with refused("restore it first"):
        withdrawals.correct(db, BY, last, corrected(last, cylinder="3"), None, "cylinder")


def checked_draft(db: Session, visit: Visit, writer: Actor, checker: Actor):
    draft = drafts.write(db, writer, visit, visit.sessions)
    return drafts.check(db, checker, draft)


def test_drafts_take_the_corrected_test_and_must_be_checked_again(db: Session, visit, last):
    writer, checker = factories.someone(db), factories.someone(db, "Ida Fell")
    draft = checked_draft(db, visit, writer, checker)
    new = withdrawals.correct(db, BY, last, corrected(last, cylinder="3"), None, "cylinder")
    assert [link.session for link in draft.sessions] == [visit.sessions[0], new]
    assert (draft.checked_by_id, draft.checked_fingerprint) == (None, "")
    with refused("not checked yet"):
        issuing.issue_certificate(db, writer, draft)


def test_drafts_lose_a_withdrawn_test_and_none_is_issued_without_any(db: Session, visit, last):
    writer, checker = factories.someone(db), factories.someone(db, "Ida Fell")
    draft = checked_draft(db, visit, writer, checker)
    first = visit.sessions[0]
    withdrawals.withdraw(db, BY, last, REASON)
    assert [link.session for link in draft.sessions] == [first]
    assert draft.checked_at is None
    withdrawals.withdraw(db, BY, first, REASON)
    with refused("states no flow test"):
        drafts.check(db, checker, draft)


def test_an_issued_certificate_keeps_the_test_as_it_was(db: Session, visit, last):
    writer, checker = factories.someone(db), factories.someone(db, "Ida Fell")
    issued = issuing.issue_certificate(db, writer, checked_draft(db, visit, writer, checker))
    snapshot, pdf = issued.snapshot, issued.pdf
    new = withdrawals.correct(db, BY, last, corrected(last, cylinder="3"), None, "cylinder")
    db.expire_all()
    assert (issued.snapshot, issued.pdf) == (snapshot, pdf)
    assert [link.session for link in issued.sessions] == [visit.sessions[0], last]
    assert withdrawals.certificates_on(db, last) == [issued]
    assert withdrawals.certificates_on(db, new) == []
    assert sessions.document(last).cylinder != "3"


# Queries over flow tests that rightly see the withdrawn ones too, and why.
SEES_ALL = {
    "services/bench/captures.py": "a test posted is not posted once more, whatever became of it",
    "services/bench/fixtures.py": "a fixture that any test names, withdrawn or not, is kept as is",
    "services/bench/missing_summaries.py": "a withdrawn test has areas too, should it be restored",
    "services/bench/test_drafts.py": "an entry is over once it is a test, whatever became of that",
    "services/withdrawals.py": "finds the versions of a test",
    "services/imports/results.py": "a test imported and withdrawn is not imported once more",
    "web/api/routes.py": "lists all; each says whether it was withdrawn",
}


def test_every_query_over_flow_tests_asks_whether_they_count():
    """A new reader goes through `Visit.sessions` or asks `BenchSession.counts`."""
    package = Path(shopflow.__file__).parent
    asking = re.compile(
        r"select\(\s*(models\.)?BenchSession\b|select_from\(\s*(models\.)?BenchSession"
    )
    by_name = {
        path.relative_to(package).as_posix(): text
        for path in package.rglob("*.py")
        if asking.search(text := path.read_text())
    }
    unasked = {name for name, text in by_name.items() if "BenchSession.counts" not in text}
    assert unasked == set(SEES_ALL)
