"""Drafts of certificates: written, checked by a second person, issued as checked."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from sqlalchemy import func, select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from shopflow import documents, issuing
from shopflow.documents.snapshot import from_plain
from shopflow.errors import NotFoundError
from shopflow.models import Baseline, CertificateDraft, Counter, DraftState, Role, Visit
from shopflow.services.actor import Actor
from shopflow.services.bench import sections, sessions
from shopflow.services.certificates import doubts, drafts
from shopflow.services.routing import operations
from tests import factories
from tests.cli.sessions import AFTER_US, EXHAUST_SI, INTAKE_US
from tests.optional import present
from tests.services.expecting import assert_logged, faults_at, last_entry, refused

HOW = "Read over against the bench sheets."


@pytest.fixture
def visit(db: Session) -> Visit:
    """A head tested as received and after two cuts."""
    new_visit = factories.create_visit(db)
    # Before the earliest of the tests.
    new_visit.job.booked_in_at = datetime(2026, 2, 1, tzinfo=UTC)
    for text in (INTAKE_US, EXHAUST_SI, AFTER_US, AFTER_US.replace("seat cut", "ported")):
        factories.create_session(db, new_visit, text)
    return new_visit


@pytest.fixture
def second(db: Session) -> Actor:
    """A second person."""
    person = factories.create_person(db, Role.OWNER, login="second", name="Odile Second")
    return Actor(person, factories.NOW)


def test_a_draft_is_checked_by_a_second_person_and_then_issued(
    db: Session, machinist: Actor, second: Actor, visit: Visit
):
    values = {
        "departures": "The bore adapter was 2 mm over.",
        "opinions": "The bowl is done.\n\nThe port may yet take a little.",
    }
    draft = drafts.write(db, machinist, visit, list(visit.sessions), values)
    assert (draft.state, drafts.open_on(visit)) == (DraftState.DRAFT, [draft])
    assert_logged(db, draft, machinist, "drafted")
    with refused("not checked yet"):
        issuing.issue_certificate(db, second, draft)
    drafts.check(db, second, draft)
    assert draft.state is DraftState.CHECKED
    assert_logged(db, draft, second, "checked")
    certificate = issuing.issue_certificate(db, second, draft)
    assert (draft.state, drafts.open_on(visit)) == (DraftState.ISSUED, [])
    snapshot = certificate.snapshot
    assert (snapshot["drafted_by"], snapshot["checked_by"]) == (
        present(machinist.person).name,
        "Odile Second",
    )
    assert snapshot["opinions"] == ["The bowl is done.", "The port may yet take a little."]
    assert snapshot["departures"].startswith("The bore adapter was 2 mm over. Excluded readings")
    for verb in (
        lambda: issuing.issue_certificate(db, second, draft),
        lambda: drafts.check(db, second, draft),
        lambda: drafts.rewrite(db, second, draft, list(visit.sessions), {}),
        lambda: drafts.discard(db, second, draft),
    ):
        with refused("has been issued"):
            verb()


def test_who_wrote_it_may_check_it_only_with_a_statement(
    db: Session, by: Actor, machinist: Actor, visit: Visit
):
    draft = drafts.write(db, machinist, visit, list(visit.sessions))
    with refused("checked by a person"):
        drafts.check(db, by, draft)
    with faults_at("statement"):
        drafts.check(db, machinist, draft, "  ")
    drafts.check(db, machinist, draft, HOW)
    assert issuing.issue_certificate(db, machinist, draft).snapshot["check_statement"] == HOW


def test_the_database_wants_a_statement_of_an_own_check(
    db: Session, machinist: Actor, visit: Visit
):
    draft = drafts.write(db, machinist, visit, list(visit.sessions))
    draft.checked_by, draft.checked_at = machinist.person, machinist.at
    with pytest.raises(IntegrityError, match="own_check_has_statement"):
        db.flush()


def test_a_change_takes_the_check_back(db: Session, machinist: Actor, second: Actor, visit: Visit):
    rows = list(visit.sessions)
    draft = drafts.write(db, machinist, visit, rows)
    drafts.check(db, second, draft)
    drafts.rewrite(db, machinist, draft, rows[:2], {"opinions": "None."})
    db.flush()
    db.expire(draft)
    assert draft.state is DraftState.DRAFT
    assert draft.checked_by is None
    assert [link.session for link in draft.sessions] == rows[:2]
    assert last_entry(db, draft).verb == "rewritten"


def test_what_changed_under_a_checked_draft_is_not_issued(
    db: Session, machinist: Actor, second: Actor, visit: Visit
):
    draft = drafts.write(db, machinist, visit, list(visit.sessions))
    drafts.check(db, second, draft)
    sessions.exclude(db, machinist, visit.sessions[0].lifts[0].readings[0], "clay fell off")
    assert not drafts.stands_as_checked(db, draft)
    with refused("changed since it was checked"):
        issuing.issue_certificate(db, second, draft)
    drafts.check(db, second, draft)
    assert issuing.issue_certificate(db, second, draft).number == "FC-2026-0001"


def test_a_number_is_taken_at_issue_and_none_is_left_unused(
    db: Session, machinist: Actor, visit: Visit
):
    rows = list(visit.sessions)
    thrown = drafts.write(db, machinist, visit, rows)
    drafts.check(db, machinist, thrown, HOW)
    drafts.discard(db, machinist, thrown)
    assert db.scalar(select(func.count()).select_from(CertificateDraft)) == 0
    with pytest.raises(NotFoundError):
        drafts.get(db, 1_000_000)
    certificate = factories.issue_certificate(db, machinist, rows)
    db.commit()
    # A request that fails after the number was taken gives it back with all else.
    draft = drafts.write(db, machinist, visit, rows)
    drafts.check(db, machinist, draft, HOW)
    db.commit()
    issuing.issue_certificate(db, machinist, draft)
    db.rollback()
    db.expire_all()
    later = issuing.issue_certificate(db, machinist, draft)
    assert (certificate.number, later.number) == ("FC-2026-0001", "FC-2026-0002")
    assert db.scalar(select(Counter.last).where(Counter.series == "certificate")) == 2


def test_a_correction_drafted_before_another_was_issued_is_refused(
    db: Session, machinist: Actor, visit: Visit
):
    rows = list(visit.sessions)
    first = factories.issue_certificate(db, machinist, rows)
    late = drafts.write(db, machinist, visit, rows, {"reason": "serial"}, replaces=first)
    drafts.check(db, machinist, late, HOW)
    factories.issue_certificate(db, machinist, rows, first, reason="valve size")
    with refused("replaced meanwhile"):
        issuing.issue_certificate(db, machinist, late)


@pytest.mark.parametrize(
    ("baseline", "pairs"),
    [
        (Baseline.FIRST, [("as received", "seat cut"), ("as received", "ported")]),
        (Baseline.PREVIOUS, [("as received", "seat cut"), ("seat cut", "ported")]),
        (Baseline.NONE, []),
    ],
)
def test_sessions_are_compared_as_chosen(
    db: Session, machinist: Actor, visit: Visit, baseline: Baseline, pairs: list[tuple[str, str]]
):
    draft = drafts.write(db, machinist, visit, list(visit.sessions), {"baseline": baseline.value})
    answer = drafts.stated(db, draft)
    cut = [(gain.before.split(",")[0], gain.after.split(",")[0]) for gain in answer.gains]
    assert cut == pairs
    files = {session.file_name for session in answer.sessions}
    assert {name for gain in answer.gains for name in (gain.before_file, gain.after_file)} <= files


TIGHT = INTAKE_US.replace("1.732 in", "0.9 in").replace("1.530 in", "0.8 in")


def test_an_impossible_result_is_listed_once_per_test_and_answered_before_a_check(
    db: Session, machinist: Actor
):
    visit = factories.create_visit(db)
    rows = [factories.create_session(db, visit, text) for text in (TIGHT, AFTER_US)]
    draft = drafts.write(db, machinist, visit, rows)
    (doubt,) = drafts.doubts_of(db, draft)
    assert doubt.startswith(
        "Intake, as received: the coefficient on the least valve area is above 1 at"
    )
    with faults_at(doubts.key(doubt)):
        drafts.check(db, machinist, draft, HOW, {doubt: "  "})
    assert draft.state is DraftState.DRAFT
    drafts.check(db, machinist, draft, HOW, {doubt: "The valve size is a guess."})
    certificate = issuing.issue_certificate(db, machinist, draft)
    assert certificate.snapshot["answers"] == [
        {"doubt": doubt, "answer": "The valve size is a guess."}
    ]


def test_a_doubt_that_came_after_the_check_stops_the_issue(
    db: Session, machinist: Actor, visit: Visit
):
    draft = drafts.write(db, machinist, visit, list(visit.sessions))
    drafts.check(db, machinist, draft, HOW)
    visit.job.booked_in_at = factories.NOW
    with refused("a doubt of the results is not answered yet"):
        issuing.issue_certificate(db, machinist, draft)


def test_a_test_made_before_the_head_was_received_is_questioned(
    db: Session, machinist: Actor, visit: Visit
):
    visit.job.booked_in_at = datetime(2026, 2, 4, 12, tzinfo=UTC)
    draft = drafts.write(db, machinist, visit, list(visit.sessions))
    (doubt,) = drafts.doubts_of(db, draft)
    assert "Exhaust, as received: tested on" in doubt
    assert "before the head was received on" in doubt
    # The same day is no doubt.
    visit.job.booked_in_at = datetime(2026, 2, 3, 23, tzinfo=UTC)
    assert drafts.doubts_of(db, draft) == []


def test_a_choked_section_is_questioned(db: Session, machinist: Actor):
    visit = factories.create_visit(db)
    row = factories.create_session(db, visit)
    shared = {"side": "intake", "when": "before"}
    areas = [{"distance": "12 mm", "area": "190 mm2"}, {"distance": "24 mm", "area": "900 mm2"}]
    sections.record(db, machinist, visit, shared, areas)
    draft = drafts.write(db, machinist, visit, [row])
    assert any("more than a section of the port can pass" in d for d in drafts.doubts_of(db, draft))


def test_a_flow_beyond_the_port_area_given_is_questioned(db: Session, machinist: Actor):
    visit = factories.create_visit(db)
    text = INTAKE_US.replace("1.72 in2", "0.30 in2")
    row = factories.create_session(db, visit, text)
    draft = drafts.write(db, machinist, visit, [row])
    assert any("of the port area given" in doubt for doubt in drafts.doubts_of(db, draft))


def test_a_certificate_needs_something_that_identifies_the_head(
    db: Session, machinist: Actor, visit: Visit
):
    visit.head.casting_number = visit.head.serial = ""
    draft = drafts.write(db, machinist, visit, list(visit.sessions))
    with refused("nothing tells head"):
        drafts.check(db, machinist, draft, HOW)
    values = {"identification": "Two green dots beside the water outlet."}
    drafts.rewrite(db, machinist, draft, list(visit.sessions), values)
    drafts.check(db, machinist, draft, HOW)
    certificate = issuing.issue_certificate(db, machinist, draft)
    assert certificate.snapshot["identification"] == values["identification"]


def test_an_old_certificate_without_answers_keeps_its_code(
    db: Session, machinist: Actor, visit: Visit
):
    certificate = factories.issue_certificate(db, machinist, list(visit.sessions))
    assert not {"answers", "identification"} & set(certificate.snapshot)
    assert (
        from_plain(documents.FlowCertificate, certificate.snapshot).verification_code
        == certificate.code
    )


def test_a_certificate_names_all_that_was_cut_and_claims_no_gain_without_a_cut(
    db: Session, by: Actor
):
    visit = factories.create_visit(db)
    steps = [factories.create_operation(db, visit, kind) for kind in ("seat-insert", "port-work")]
    factories.approve(db, by, visit.job)
    more = INTAKE_US.replace("101.0, 101.5, 100.8", "106.0, 106.5, 105.8")
    rows = [factories.create_session(db, visit, INTAKE_US)]
    for step in steps:
        operations.sign_off(db, factories.someone(db), step, {"not_measured_because": "later"})
    rows += [factories.create_session(db, visit, INTAKE_US, after=steps[1])]
    rows += [factories.create_session(db, visit, more, after=steps[1])]
    draft = drafts.write(
        db, factories.someone(db), visit, rows, {"baseline": Baseline.PREVIOUS.value}
    )
    cut, uncut = drafts.stated(db, draft).gains
    names = " and ".join(step.kind.name for step in steps)
    assert f"Work between them: {names} (together, not tested apart)." in cut.conclusion
    assert "No metal was cut between these tests" in uncut.conclusion
    assert "a gain." not in uncut.conclusion
    assert "gain" not in {point.finding for point in uncut.areas}
    assert "flows more" in {point.finding for point in uncut.areas}
