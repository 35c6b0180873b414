"""Flow certificates: numbered, frozen, superseded but never changed."""

from __future__ import annotations

import hashlib
import json
from datetime import timedelta

import pytest
from sqlalchemy import func, select, text
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from shopflow import issuing, testfile
from shopflow.errors import NotFoundError, RuleError
from shopflow.models import BenchSession, Certificate, CertificateDraft, CertificateSession, Visit
from shopflow.services.actor import Actor
from shopflow.services.bench import sessions
from shopflow.services.certificates import drafts, issue
from tests import factories
from tests.cli.sessions import AFTER_US, EXHAUST_SI, INTAKE_US
from tests.factories import issue_certificate
from tests.services.expecting import assert_logged, faults_at, last_entry, refused


@pytest.fixture
def visit(db: Session) -> Visit:
    """A head tested as received and after a cut."""
    new_visit = factories.create_visit(db)
    step = factories.create_operation(db, new_visit, "flow-test")
    factories.create_session(db, new_visit, INTAKE_US)
    factories.create_session(db, new_visit, EXHAUST_SI)
    factories.create_session(db, new_visit, AFTER_US, after=step)
    return new_visit


def rows(visit: Visit) -> list[BenchSession]:
    """The head's sessions as they stand."""
    return list(visit.sessions)


def test_a_certificate_is_numbered_frozen_and_hashed(db: Session, machinist: Actor, visit: Visit):
    certificate = issue_certificate(db, machinist, rows(visit))
    db.flush()
    db.expire(certificate)
    answer = issue.get(db, "FC-2026-0001", 1)
    assert answer is certificate
    assert issue.latest(visit.job) is certificate
    assert (certificate.issued_at, certificate.issued_by, certificate.job) == (
        machinist.at,
        machinist.person,
        visit.job,
    )
    assert certificate.pdf.startswith(b"%PDF-")
    assert certificate.sha256 == hashlib.sha256(certificate.pdf).hexdigest()
    assert [link.session for link in certificate.sessions] == rows(visit)
    assert_logged(db, certificate, machinist, "issued")
    assert last_entry(db, certificate).job_id == visit.job_id


def test_its_snapshot_holds_every_input_and_result_and_does_not_follow_the_session(
    db: Session, machinist: Actor, visit: Visit
):
    first = next(row for row in rows(visit) if row.stage == "as received")
    certificate = issue_certificate(db, machinist, rows(visit))
    document = json.loads(json.dumps(certificate.snapshot))
    by_name = {row["file_text"]: row for row in document["sessions"]}
    assert set(by_name) == {testfile.dumps(sessions.document(row)) for row in rows(visit)}
    points = sessions.reduction(first).points
    intake = next(row for row in document["sessions"] if row["stage"] == "as received")
    assert [point["flow"] for point in intake["points"]] == [point.flow for point in points]
    (gain,) = document["gains"]
    compared = sessions.compare(first, rows(visit)[-1])
    assert gain["mean_gain_percent"] == compared.mean_gain_percent
    assert document["customer"]["name"] == visit.job.customer.name
    sessions.exclude(db, machinist, first.lifts[0].readings[0], "clay fell off")
    db.flush()
    db.expire_all()
    assert certificate.snapshot == document


def test_numbers_run_by_the_year(db: Session, machinist: Actor, visit: Visit):
    next_year = Actor(machinist.person, machinist.at + timedelta(days=365))
    new_rows = [
        issue_certificate(db, who, rows(visit)[:1]) for who in (machinist, machinist, next_year)
    ]
    assert [item.number for item in new_rows] == ["FC-2026-0001", "FC-2026-0002", "FC-2027-0001"]
    assert {item.revision for item in new_rows} == {1}
    assert issue.latest(visit.job) is new_rows[2]


def test_a_correction_is_a_new_revision_that_supersedes(
    db: Session, machinist: Actor, visit: Visit
):
    first = issue_certificate(db, machinist, rows(visit))
    before = (first.pdf, first.sha256, first.snapshot)
    with faults_at("reason"):
        issue_certificate(db, machinist, rows(visit), first, reason=" ")
    second = issue_certificate(db, machinist, rows(visit)[:1], first, reason="wrong valve size")
    assert (second.number, second.revision, second.supersedes) == (first.number, 2, first)
    assert second.revision_reason == "wrong valve size"
    assert second.title == "FC-2026-0001 revision 2"
    assert issue.newest(db, first) is second
    third = issue_certificate(
        db, machinist, rows(visit)[:1], second, reason="and the customer's name"
    )
    assert third.revision == 3
    db.flush()
    db.expire_all()
    assert (first.pdf, first.sha256, first.snapshot) == before
    assert [item.revision for item in visit.job.certificates] == [1, 2, 3]


def test_what_cannot_be_certified_is_refused(
    db: Session, by: Actor, machinist: Actor, visit: Visit
):
    draft = drafts.write(db, machinist, visit, rows(visit))
    answers = dict.fromkeys(drafts.doubts_of(db, draft), "Tested before it was booked in.")
    drafts.check(db, machinist, draft, factories.OWN_CHECK, answers)
    with refused("authorized by a person"):
        issuing.issue_certificate(db, by, draft)
    with faults_at("sessions"):
        drafts.write(db, machinist, visit, [])
    other = factories.create_session(db)
    with faults_at("sessions"):
        issue_certificate(db, machinist, [*rows(visit), other])
    first = issue_certificate(db, machinist, rows(visit))
    with refused(f"is of job {visit.job.number}"):
        issue_certificate(db, machinist, [other], first, reason="another job's")
    # None of the refusals took a number.
    assert issue_certificate(db, machinist, rows(visit)).number == "FC-2026-0002"


def test_what_was_not_issued_is_not_found(db: Session, visit: Visit):
    with pytest.raises(NotFoundError, match="FC-2026-0009 revision 1"):
        issue.get(db, "FC-2026-0009", 1)
    with pytest.raises(NotFoundError, match="no issued certificate"):
        issue.latest(visit.job)


def change_number(db: Session, row: Certificate) -> None:
    row.number = "FC-2026-0099"
    db.flush()


def change_bytes(db: Session, row: Certificate) -> None:
    row.pdf = b"%PDF-other"
    db.flush()


def change_snapshot(db: Session, row: Certificate) -> None:
    row.snapshot = {**row.snapshot, "customer": {}}
    db.flush()


def delete(db: Session, row: Certificate) -> None:
    db.delete(row)
    db.flush()


def delete_link(db: Session, row: Certificate) -> None:
    db.delete(row.sessions[0])
    db.flush()


def reorder_link(db: Session, row: Certificate) -> None:
    row.sessions[0].position = 9
    db.flush()


def drop_link(db: Session, row: Certificate) -> None:
    row.sessions.pop()


def add_link(db: Session, row: Certificate) -> None:
    session = factories.create_session(db, row.job.heads[0])
    row.sessions.append(CertificateSession(session=session, position=9))


def replace_links(db: Session, row: Certificate) -> None:
    row.sessions = []


def change_its_draft(db: Session, row: Certificate) -> None:
    draft = db.scalars(select(CertificateDraft)).one()
    draft.opinions = "Best in the county."
    db.flush()


def delete_its_draft(db: Session, row: Certificate) -> None:
    db.delete(db.scalars(select(CertificateDraft)).one())
    db.flush()


@pytest.mark.parametrize(
    "meddle",
    [
        change_number, change_bytes, change_snapshot, delete, delete_link, reorder_link,
        drop_link, add_link, replace_links, change_its_draft, delete_its_draft,
    ],
)  # fmt: skip
def test_an_issued_one_and_its_links_cannot_be_changed_or_deleted(
    db: Session, machinist: Actor, visit: Visit, meddle
):
    certificate = issue_certificate(db, machinist, rows(visit))
    db.commit()
    bytes_then = certificate.pdf
    draft = db.scalars(select(CertificateDraft)).one()
    assert draft.certificate is certificate
    with pytest.raises(RuleError, match="cannot be changed"):
        meddle(db, certificate)
    db.rollback()
    db.expire_all()
    assert db.scalar(select(func.count()).select_from(CertificateSession)) == 3
    assert issue.get(db, "FC-2026-0001", 1).pdf == bytes_then


def test_a_session_a_certificate_rests_on_cannot_be_deleted(
    db: Session, machinist: Actor, visit: Visit
):
    issue_certificate(db, machinist, rows(visit))
    db.commit()
    db.delete(rows(visit)[0])
    with pytest.raises(IntegrityError):
        db.flush()


RAW = [
    "UPDATE certificate SET pdf = NULL",
    "UPDATE certificate SET snapshot = '{}'",
    "UPDATE certificate SET number = 'FC-2026-0099'",
    "UPDATE certificate SET code = 'AAAA-AAAA-AAAA-AAAA'",
    "UPDATE certificate SET issued_at = '2020-01-01 00:00:00+00:00'",
    "DELETE FROM certificate",
    "UPDATE certificate_session SET position = 7",
    "DELETE FROM certificate_session",
    "UPDATE certificate_draft SET opinions = 'Best in the county.'",
    "UPDATE certificate_draft SET certificate_id = NULL",
    "DELETE FROM certificate_draft",
]


@pytest.mark.parametrize("statement", RAW)
def test_the_database_itself_refuses_to_alter_what_is_issued(
    db: Session, machinist: Actor, visit: Visit, statement: str
):
    certificate = issue_certificate(db, machinist, rows(visit))
    db.commit()
    before = db.execute(text("SELECT * FROM certificate")).all()
    with pytest.raises(IntegrityError, match="issued certificate cannot be changed or deleted"):
        db.execute(text(statement))
    db.rollback()
    assert db.execute(text("SELECT * FROM certificate")).all() == before
    assert certificate.pdf == before[0].pdf


ROUND_ABOUT = {
    "sqlite": "INSERT OR REPLACE INTO certificate SELECT * FROM certificate",
    "postgresql": "TRUNCATE certificate CASCADE",
}


def test_the_database_refuses_the_ways_round_update_and_delete(
    db: Session, machinist: Actor, visit: Visit
):
    issue_certificate(db, machinist, rows(visit))
    db.commit()
    with pytest.raises(IntegrityError, match="cannot be changed or deleted"):
        db.execute(text(ROUND_ABOUT[db.get_bind().dialect.name]))


def test_one_is_withdrawn_once_and_for_good(db: Session, by: Actor, machinist: Actor, visit: Visit):
    certificate = issue_certificate(db, machinist, rows(visit))
    with refused("withdrawn by a person"):
        issue.withdraw(db, by, certificate, "wrong head")
    with faults_at("reason"):
        issue.withdraw(db, machinist, certificate, " ")
    issue.withdraw(db, machinist, certificate, "Readings were another head's.")
    db.commit()
    db.expire_all()
    assert (certificate.withdrawn_at, certificate.withdrawn_by) == (machinist.at, machinist.person)
    assert certificate.withdrawal_reason == "Readings were another head's."
    assert_logged(db, certificate, machinist, "withdrawn")
    with pytest.raises(NotFoundError, match="withdrawn"):
        issue.latest(visit.job)
    with refused("withdrawn already"):
        issue.withdraw(db, machinist, certificate, "again")
    certificate.withdrawn_at = None
    with refused("final"):
        db.flush()
    db.rollback()
    with pytest.raises(IntegrityError):
        db.execute(text("UPDATE certificate SET withdrawn_at = NULL, withdrawn_by_id = NULL"))
