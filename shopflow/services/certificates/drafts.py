"""Drafts of flow certificates: written by one person, checked by a second, then issued."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy.orm import Session

from shopflow import documents
from shopflow.documents import certificate_text, method_notes
from shopflow.documents.snapshot import fingerprint
from shopflow.errors import FieldError, NotFoundError, RuleError, ValidationError
from shopflow.models import (
    Baseline,
    BenchSession,
    Cam,
    Certificate,
    CertificateDraft,
    DraftSession,
    DraftState,
    Visit,
)
from shopflow.resources import VERSION
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.bench import sections, test_gains, test_results
from shopflow.services.certificates import doubts, head_facts, over_cam, tested_ports
from shopflow.services.engine import swirl_sheets, through_cam
from shopflow.services.measuring import uncertainties
from shopflow.services.paperwork import facts
from shopflow.texts import gettext, lazy, spoken

SPECIFICATION: fields.Specification = {
    "reason": fields.words(),
    "baseline": fields.one_of(Baseline),
    "departures": fields.words(),
    "opinions": fields.words(),
    "identification": fields.words(),
    "sampling_reason": fields.words(),
    "cam_id": fields.count(),
}
_UNCHECKED = {
    "checked_at": None,
    "checked_by_id": None,
    "check_statement": "",
    "checked_fingerprint": "",
}
NO_NUMBER = lazy("not issued")
"""Text in place of the number of an issued certificate."""


def get(db: Session, key: int) -> CertificateDraft:
    """The draft with this key. Raises NotFoundError."""
    draft = db.get(CertificateDraft, key)
    if draft is None:
        raise NotFoundError(gettext("this certificate draft does not exist"))
    return draft


def open_on(visit: Visit) -> list[CertificateDraft]:
    """The drafts of a head's certificates that are not issued yet."""
    return [draft for draft in visit.certificate_drafts if draft.state is not DraftState.ISSUED]


def write(
    db: Session,
    by: Actor,
    visit: Visit,
    sessions: Sequence[BenchSession],
    values: Mapping[str, Any] | None = None,
    replaces: Certificate | None = None,
) -> CertificateDraft:
    """Write the draft of a certificate of a head's sessions, or of a new revision of one.

    `values` are reason, baseline, departures, opinions, identification, why these ports and the cam
    that the tests are shown through. Raises ValidationError at `sessions`, `reason` or those
    fields; RuleError where nobody writes it, or what it replaces is another job's.
    """
    if by.person is None:
        raise RuleError(gettext("a certificate is drafted by a person"))
    if visit.head.from_open_data:
        raise RuleError(
            gettext("these tests were imported as open data: a certificate states the shop's own")
        )
    if replaces is not None and replaces.job_id != visit.job_id:
        raise RuleError(
            gettext(
                "certificate {replaces} is of job {job}",
                replaces=replaces.number,
                job=replaces.job.number,
            )
        )
    clean = _read(db, visit, sessions, values or {}, correction=replaces is not None)
    draft = CertificateDraft(
        job_head=visit, replaces=replaces, written_at=by.at, written_by=by.person, **clean
    )
    draft.sessions = _links(sessions)
    db.add(draft)
    audit_log.record(db, by, draft, "drafted", job=visit.job)
    return draft


def rewrite(
    db: Session,
    by: Actor,
    draft: CertificateDraft,
    sessions: Sequence[BenchSession],
    values: Mapping[str, Any],
) -> CertificateDraft:
    """Rewrite a draft, which cancels the check. Raises as `write`; RuleError once issued."""
    if by.person is None:
        raise RuleError(gettext("a certificate is drafted by a person"))
    _still_open(draft)
    clean = _read(db, draft.job_head, sessions, values, correction=draft.replaces is not None)
    written = {"written_at": by.at, "written_by_id": by.person_id}
    if [link.session for link in draft.sessions] != list(sessions):
        _relink(db, draft, sessions)
    values = {**clean, **_UNCHECKED, **written}
    audit_log.change(db, by, draft, values, job=draft.job_head.job, verb="rewritten")
    return draft


def check(
    db: Session,
    by: Actor,
    draft: CertificateDraft,
    statement: str = "",
    answers: Mapping[str, str] | None = None,
) -> CertificateDraft:
    """Sign that a draft was checked as it now stands.

    A second person checks; where the writer does, the statement says how. `answers` are what is
    said to each doubt of `doubts_of`. Raises ValidationError at `statement` and at each doubt left
    unanswered; RuleError where nobody checks, it is past that or nothing identifies the head.
    """
    if by.person is None:
        raise RuleError(gettext("a certificate is checked by a person"))
    _still_open(draft)
    _must_be_identified(draft)
    cleaned = fields.read({"statement": fields.words()}, {"statement": statement})["statement"]
    faults = []
    if by.person_id == draft.written_by_id and not cleaned:
        message = gettext(
            "you wrote this draft yourself: say plainly how you checked it, and against what"
        )
        faults.append(FieldError("statement", message))
    answers_by_doubt = doubts.answered(doubts_of(db, draft), answers or {})
    faults += doubts.unanswered(answers_by_doubt)
    if faults:
        raise ValidationError(faults)
    draft.answers = answers_by_doubt
    values = {
        "checked_at": by.at,
        "checked_by_id": by.person_id,
        "check_statement": cleaned,
        "checked_fingerprint": fingerprint(stated(db, draft)),
    }
    audit_log.change(db, by, draft, values, job=draft.job_head.job, verb="checked")
    db.refresh(draft, ["checked_by"])
    return draft


def doubts_of(db: Session, draft: CertificateDraft) -> list[str]:
    """The doubts of a draft's results, which must be answered before it is checked."""
    if not draft.sessions:
        return []
    content = stated(db, draft)
    with spoken(content.display.language):
        return doubts.of_certificate(content)


def take_out(db: Session, by: Actor, row: BenchSession) -> None:
    """Take a test out of every open draft that states it, which takes their check back."""
    for draft in _stating(row):
        remaining = [link.session for link in draft.sessions if link.session_id != row.id]
        _state_anew(db, by, draft, remaining)


def replace_test(db: Session, by: Actor, old: BenchSession, new: BenchSession) -> None:
    """Let every open draft state a corrected test, which takes their check back."""
    for draft in _stating(old):
        tests = [new if link.session_id == old.id else link.session for link in draft.sessions]
        _state_anew(db, by, draft, tests)


def _stating(row: BenchSession) -> list[CertificateDraft]:
    return [
        draft
        for draft in open_on(row.job_head)
        if any(link.session_id == row.id for link in draft.sessions)
    ]


def _state_anew(
    db: Session, by: Actor, draft: CertificateDraft, tests: Sequence[BenchSession]
) -> None:
    """Put other tests into a draft; nobody has checked it then."""
    _relink(db, draft, tests)
    audit_log.change(db, by, draft, _UNCHECKED, job=draft.job_head.job, verb="tests changed")
    db.flush()
    db.expire(draft, ["checked_by"])


def discard(db: Session, by: Actor, draft: CertificateDraft) -> None:
    """Throw a draft away. Raises RuleError once it is issued."""
    _still_open(draft)
    audit_log.record(db, by, draft, "thrown away", job=draft.job_head.job)
    db.delete(draft)
    db.flush()


def stands_as_checked(db: Session, draft: CertificateDraft) -> bool:
    """True where everything a draft states is as it was when it was checked."""
    return draft.checked_fingerprint == fingerprint(stated(db, draft))


def stated(db: Session, draft: CertificateDraft) -> documents.FlowCertificate:
    """Contents of a certificate from this draft, without number, issue and check.

    Raises RuleError where every test it stated was withdrawn.
    """
    if not draft.sessions:
        raise RuleError(
            gettext("this draft states no flow test any more: change it and choose one")
        )
    visit = draft.job_head
    chosen = [link.session for link in draft.sessions]
    ordered = sorted(chosen, key=lambda row: (row.side != "intake", row.position))
    replaced = draft.replaces.revision if draft.replaces else 0
    display = facts.display(db, visit.job.customer)
    pairs = _pairs(ordered, draft.baseline)
    usual = uncertainties.usual(db)
    with spoken(display.language):
        content = documents.FlowCertificate(
            shop=facts.letterhead(db),
            display=display,
            number=str(NO_NUMBER),
            revision=replaced + 1,
            revision_reason=draft.reason,
            issued_at=draft.written_at,
            issued_by="",
            customer=facts.party(visit.job),
            job=facts.job_facts(db, visit.job),
            head=facts.identity(visit),
            sessions=tuple(
                dataclasses.replace(
                    test_results.session_result(row), along_port=sections.of_session(row, usual)
                )
                for row in ordered
            ),
            gains=tuple(
                test_gains.gain(db, before, after, display.units) for before, after in pairs
            ),
            software=VERSION,
            explained=method_notes.on_certificates(),
            drafted_by=draft.written_by.name,
            compared_with=str(certificate_text.COMPARED[draft.baseline.value]),
            opinions=tuple(line.strip() for line in draft.opinions.splitlines() if line.strip()),
        )
        if draft.departures:
            departures = f"{draft.departures} {certificate_text.LEFT_OUT}"
            content = dataclasses.replace(content, departures=departures)
        answers = tuple(
            documents.Answered(doubt, draft.answers[doubt])
            for doubt in doubts.of_certificate(content)
            if doubt in draft.answers
        )
        return dataclasses.replace(
            content,
            identification=draft.identification,
            answers=answers,
            sampling=tuple(tested_ports.sampling(visit, ordered, draft.sampling_reason)),
            is_in_standard_air=all(item.is_in_standard_air for item in content.sessions),
            at_lift=tuple(tested_ports.at_lift(db, visit, content.sessions)),
            spread=tuple(tested_ports.spread(content.sessions)),
            valves=tuple(head_facts.valves(visit)),
            seats=tuple(head_facts.seats(visit, display.units)),
            swirl=swirl_sheets.of_sessions(db, ordered),
            through_cam=over_cam.certified(db, draft.cam, ordered, pairs) if draft.cam else None,
        )


def cams_offered(db: Session, visit: Visit, draft: CertificateDraft | None = None) -> list[Cam]:
    """The cams that a certificate's tests may be shown through; a draft's own is always one."""
    offered = through_cam.on_offer(db, visit)
    chosen = draft.cam if draft else None
    return offered if chosen is None or chosen in offered else [*offered, chosen]


def _read(
    db: Session,
    visit: Visit,
    sessions: Sequence[BenchSession],
    values: Mapping[str, Any],
    *,
    correction: bool,
) -> dict[str, Any]:
    faults: list[FieldError] = []
    if not sessions:
        faults.append(FieldError("sessions", gettext("choose at least one flow test")))
    if any(row.job_head_id != visit.id for row in sessions):
        faults.append(FieldError("sessions", gettext("a certificate is of one head")))
    clean: dict[str, Any] = {}
    try:
        clean = fields.read(SPECIFICATION, values)
    except ValidationError as error:
        faults += error.faults
    if clean.get("cam_id") and not _is_of(db.get(Cam, clean["cam_id"]), visit):
        faults.append(FieldError("cam_id", gettext("choose a cam of this job or engine type")))
    if correction and not clean.get("reason", ""):
        faults.append(FieldError("reason", gettext("say what is corrected, and why")))
    if faults:
        raise ValidationError(faults)
    return clean


def _is_of(cam: Cam | None, visit: Visit) -> bool:
    """True for a cam of a head's job or engine type."""
    if cam is None:
        return False
    return cam.job_id == visit.job_id or cam.engine_type_id == visit.head.engine_type_id


def _must_be_identified(draft: CertificateDraft) -> None:
    if not draft.is_identified:
        raise RuleError(
            gettext(
                "nothing tells head {job_head} from another: enter its casting number or serial "
                "on the head's page, or another identification in the draft",
                job_head=draft.job_head.tag,
            )
        )


def _relink(db: Session, draft: CertificateDraft, sessions: Sequence[BenchSession]) -> None:
    draft.sessions.clear()
    # The old links must go before new ones take their places.
    db.flush()
    draft.sessions = _links(sessions)


def _links(sessions: Sequence[BenchSession]) -> list[DraftSession]:
    return [
        DraftSession(session=row, position=position)
        for position, row in enumerate(sessions, start=1)
    ]


def _still_open(draft: CertificateDraft) -> None:
    if draft.state is DraftState.ISSUED:
        raise RuleError(gettext("this draft has been issued; it cannot be changed any more"))


def _pairs(
    ordered: Sequence[BenchSession], baseline: Baseline
) -> list[tuple[BenchSession, BenchSession]]:
    """Each later session of a port with the one it is compared with."""
    if baseline is Baseline.NONE:
        return []
    earlier: dict[tuple[str, str], BenchSession] = {}
    pairs = []
    for row in ordered:
        before = earlier.setdefault((row.side, row.cylinder), row)
        if before is not row:
            pairs.append((before, row))
        if baseline is Baseline.PREVIOUS:
            earlier[row.side, row.cylinder] = row
    return pairs
