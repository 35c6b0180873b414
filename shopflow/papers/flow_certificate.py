"""The flow certificate: what was tested, how, with what result, and what the result is worth."""

from __future__ import annotations

from collections.abc import Iterator

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, KeepTogether

from shopflow.documents import CertifiedCam, FlowCertificate, SessionResult
from shopflow.documents.machine_readable import results_json
from shopflow.papers.blocks import boxed
from shopflow.papers.brief import conclusion_block, in_brief
from shopflow.papers.certificate_annex import annex_block
from shopflow.papers.certificate_charts import flow_charts, gain_drawn
from shopflow.papers.conditions import conditions_block
from shopflow.papers.description import Attachment
from shopflow.papers.flow_test import flows_note, session_block
from shopflow.papers.gains import gain_block
from shopflow.papers.language import in_its_language
from shopflow.papers.qr_code import Corner, ScanCode
from shopflow.papers.results_file import results_csv
from shopflow.papers.sheet import Sheet
from shopflow.papers.signed import signed_note
from shopflow.papers.style import (
    BODY,
    CENTRED,
    SMALL,
    STRONG,
    SUBTITLE,
    TITLE,
    Rule,
    beside,
    gap,
    heading,
    one_line,
    paper_title,
    para,
    paragraphs,
)
from shopflow.papers.swirl import swirl_blocks
from shopflow.papers.tables import facts
from shopflow.papers.tested_ports import tested_ports_block
from shopflow.papers.through_cam import through_cam_block
from shopflow.papers.work_order import job_rows
from shopflow.texts import gettext
from shopflow.units import UnitSystem

CODE = 22 * mm


@in_its_language
def flow_certificate(certificate: FlowCertificate, *, draft: bool = False) -> bytes:
    """The certificate as PDF, its session files attached.

    A draft is marked as one on every page, and has neither code nor authorisation.
    """
    head = certificate.head
    sheet = Sheet(
        certificate.shop,
        certificate.display,
        gettext("Flow certificate"),
        certificate.title,
        certificate.issued_at,
        subject=gettext(
            "Flow test of {engine_type}, head {head}", engine_type=head.engine_type, head=head.tag
        ),
        keywords=_keywords(certificate),
        mark=gettext("Draft, not issued") if draft else "",
    )
    width = sheet.width
    story = [
        *_top(certificate, width),
        *conclusion_block(certificate),
        *in_brief(certificate, width),
        *tested_ports_block(certificate, width),
        *gain_drawn(certificate, width),
        *_authority_block(certificate, width, draft=draft),
        *flow_charts(certificate, width),
    ]
    for gain in certificate.gains:
        story += gain_block(gain, certificate.display, width)
    story += conditions_block(certificate.sessions, certificate.display, width)
    leads = certificate.is_in_standard_air
    story += flows_note(certificate.sessions, in_standard_air=leads)
    for session in certificate.sessions:
        story += session_block(session, certificate.display, width, in_standard_air=leads)
    if certificate.through_cam is not None:
        story += through_cam_block(certificate.through_cam, certificate.display, width)
    story += swirl_blocks(certificate.swirl, certificate.display, width)
    story += [
        *_terms(certificate, width),
        *_end_mark(certificate),
        *annex_block(certificate, width),
    ]
    return sheet.build(story, _attachments(certificate))


def _keywords(certificate: FlowCertificate) -> tuple[str, ...]:
    """Keywords by which a reader may search for this certificate."""
    head = certificate.head
    named = (certificate.number, certificate.job.number, head.tag, head.casting_number, head.serial)
    return (gettext("flow certificate"), *(text for text in (*named, head.engine_type) if text))


def _attachments(certificate: FlowCertificate) -> list[Attachment]:
    """The session files, each with its results as a table, and the results of all for programs."""
    of_tests = [
        attachment
        for name, session in zip(certificate.file_names, certificate.sessions, strict=True)
        for attachment in _files_of(name, session, certificate.display.units)
    ]
    return [*of_tests, *_cam_file(certificate.through_cam), _results_file(certificate)]


def _results_file(certificate: FlowCertificate) -> Attachment:
    """The certificate's statements for programs."""
    name = f"{certificate.number or 'draft'}.json"
    words = gettext("Results for programs, in SI units")
    return Attachment(name, results_json(certificate), words, "application/json", "Data")


def _cam_file(cam: CertifiedCam | None) -> list[Attachment]:
    """The file of the cam that tests are shown through, where they are."""
    if cam is None:
        return []
    words = gettext("Cam file: {cam}", cam=cam.name)
    return [Attachment(cam.file_name, cam.file_text, words)]


def _files_of(name: str, session: SessionResult, units: UnitSystem) -> Iterator[Attachment]:
    """A test's own file, and its results as a table."""
    test = {"test": session.title}
    words = gettext("Flow test file with every reading: {test}", **test)
    yield Attachment(name, session.file_text, words)
    words = gettext("Results at each lift with their uncertainty: {test}", **test)
    table = results_csv(session, units)
    yield Attachment(f"{name.removesuffix('.toml')}.csv", table, words, "text/csv", "Data")


def _top(certificate: FlowCertificate, width: float) -> list[Flowable]:
    top: list[Flowable] = []
    aside = 0.0
    if certificate.url:
        top.append(Corner(ScanCode(certificate.url, CODE), width))
        aside = CODE + 6 * mm
    head = certificate.head
    top += [
        paper_title(gettext("Flow certificate"), beside(TITLE, aside)),
        para(
            gettext("{engine_type}, head {head}", engine_type=head.engine_type, head=head.tag),
            beside(SUBTITLE, aside),
        ),
    ]
    if certificate.revision > 1:
        before = certificate.revision - 1
        text = gettext(
            "Revision {revision}; replaces revision {before}. Reason: {reason}",
            revision=certificate.revision,
            before=before,
            reason=certificate.revision_reason or gettext("not recorded"),
        )
        top += [boxed([para(text, STRONG)], width - aside), gap(4)]
    return [*top, *facts(_item(certificate), width - aside)]


def _item(certificate: FlowCertificate) -> list[tuple[str, str]]:
    """Item tested, with customer, date and place."""
    head, display = certificate.head, certificate.display
    location = ", ".join(
        text for text in (certificate.shop.name, one_line(certificate.shop.address)) if text
    )
    return [
        (gettext("Customer"), certificate.customer.name),
        (gettext("Address"), one_line(certificate.customer.address)),
        (gettext("Job"), certificate.job.number),
        (gettext("Received"), display.moment(certificate.job.booked_in)),
        (gettext("Tested"), tested(certificate)),
        (
            gettext("Issued"),
            display.moment(certificate.issued_at) if certificate.issued_by else gettext("not yet"),
        ),
        (gettext("Place of work"), location),
        (gettext("Casting number"), head.casting_number or gettext("not recorded")),
        (gettext("Serial"), head.serial or gettext("not recorded")),
        (gettext("Also known by"), certificate.identification),
        (gettext("Material"), head.material),
        (gettext("Ports"), head.ports),
        (gettext("Chamber"), head.chamber),
        (gettext("Valves"), "\n".join(certificate.valves)),
        (gettext("Seats"), "\n".join(certificate.seats)),
        (
            gettext("Condition"),
            gettext("as received: {condition}", condition=head.condition)
            if head.condition
            else gettext("not recorded"),
        ),
    ]


def tested(certificate: FlowCertificate) -> str:
    """The day of its first and of its last test."""
    moments = sorted(item.measured_at for item in certificate.sessions if item.measured_at)
    days = dict.fromkeys(certificate.display.moment(value) for value in moments[:1] + moments[-1:])
    if not days:
        return gettext("not recorded")
    first, last = next(iter(days)), next(reversed(days))
    return first if first == last else gettext("{first} to {last}", first=first, last=last)


def _terms(certificate: FlowCertificate, width: float) -> list[Flowable]:
    """Statements on the results: departures, doubts, opinions, scope."""
    stated = [(name, value) for name, value in job_rows(certificate.job) if value]
    return [
        *heading(gettext("Changes from the standard method, and set-up")),
        *paragraphs((certificate.departures, certificate.set_up)),
        *_answers(certificate),
        *_opinions(certificate),
        *heading(gettext("Stated by the customer, not verified")),
        *(facts(stated, width) or [para(gettext("Nothing was recorded."))]),
        *heading(gettext("Scope")),
        *paragraphs(certificate.scope),
    ]


def _answers(certificate: FlowCertificate) -> list[Flowable]:
    if not certificate.answers:
        return []
    sentences = [
        gettext("{doubt} Answer: {answer}", doubt=item.doubt, answer=item.answer)
        for item in certificate.answers
    ]
    return [
        *heading(gettext("Doubtful results, and what the shop says of them")),
        *paragraphs(sentences),
    ]


def _opinions(certificate: FlowCertificate) -> list[Flowable]:
    if not certificate.opinions:
        return []
    return [
        *heading(gettext("Opinions of the shop")),
        para(gettext("What follows is opinion. It was not measured."), SMALL),
        *paragraphs(certificate.opinions),
    ]


def _authority_block(certificate: FlowCertificate, width: float, *, draft: bool) -> list[Flowable]:
    """Authority and verification of the certificate."""
    content = [para(gettext("Not issued"), STRONG)] if draft else _authority(certificate)
    return [gap(5), KeepTogether([boxed(content, width)])]


def _authority(certificate: FlowCertificate) -> list[Flowable]:
    day = certificate.display.moment(certificate.issued_at)
    return [
        para(gettext("Authorized by {issued_by}", issued_by=certificate.issued_by), STRONG),
        para(
            gettext(
                "{shop}, {day}. Certificate {certificate}.",
                shop=certificate.shop.name,
                day=day,
                certificate=certificate.title,
            ),
            BODY,
        ),
        *(para(text, BODY) for text in _checked(certificate)),
        para(
            gettext(
                "Verification code {verification_code}",
                verification_code=certificate.verification_code,
            ),
            BODY,
        ),
        para(f"{_verifying(certificate)}{_log_head(certificate)}", SMALL),
        *signed_note(certificate.signing_key, SMALL),
        para(
            gettext(
                "Made with shopflow {software}. The test files are attached inside this "
                "PDF; anyone can calculate the results again from them.",
                software=certificate.software,
            ),
            SMALL,
        ),
    ]


def _checked(certificate: FlowCertificate) -> list[str]:
    """User who checked it, with the statement where the writer did."""
    if not certificate.checked_by:
        return []
    day = certificate.display.moment(certificate.checked_at)
    who = {"name": certificate.checked_by, "day": day}
    text = gettext("Checked by {name}, {day}", **who)
    if certificate.checked_by == certificate.drafted_by:
        text = gettext("Checked by {name}, {day}, who drafted it too", **who)
    statement = f": “{certificate.check_statement}”" if certificate.check_statement else "."
    return [f"{text}{statement}"]


def _verifying(certificate: FlowCertificate) -> str:
    if certificate.verify_at:
        return gettext(
            "To verify it, give its number and this code, or the PDF itself, at {address}, or scan "
            "the code on the first page.",
            address=certificate.verify_at,
        )
    return gettext(
        "To verify it, give its number and this code, or the PDF itself, with the shop that issued "
        "it."
    )


def _log_head(certificate: FlowCertificate) -> str:
    """Head of the shop's record log, which a check of its records compares."""
    head = certificate.record_log
    if head is None:
        return ""
    return " " + gettext(
        "Record log at issue: {size} entries, {root}.", size=head.size, root=head.root
    )


def _end_mark(certificate: FlowCertificate) -> list[Flowable]:
    return [
        gap(10),
        Rule(4),
        para(gettext("End of certificate {certificate}", certificate=certificate.title), CENTRED),
    ]
