"""Issuing flow certificates."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy.orm import Session

from shopflow import papers
from shopflow.documents import FlowCertificate
from shopflow.issuing.signature import Sign, signed, signing_key
from shopflow.models import Certificate, CertificateDraft
from shopflow.services.actor import Actor
from shopflow.services.certificates import issue


@dataclass(frozen=True)
class Drawn:
    """A certificate drawn before its number was taken."""

    content: FlowCertificate
    pdf: bytes


def draw_certificate(
    db: Session, by: Actor, draft: CertificateDraft, sign: Sign | None = None
) -> Drawn:
    """Draw and sign what a checked draft states under the number that comes next, taking none.

    That is most of the work, and needs no transaction that others wait for. Raises RuleError as
    `issue.numbered`.
    """
    content = issue.foreseen(db, by, draft, signing_key(db, sign))
    return Drawn(content, _drawn(content, sign))


def issue_certificate(
    db: Session,
    by: Actor,
    draft: CertificateDraft,
    sign: Sign | None = None,
    drawn: Drawn | None = None,
) -> Certificate:
    """Issue what a checked draft states; what was drawn of it is drawn again where anything in it,
    as its number, is another by now.

    Raises RuleError as `issue.numbered`.
    """
    content = issue.numbered(db, by, draft, signing_key(db, sign))
    if drawn is None or drawn.content != content:
        drawn = Drawn(content, _drawn(content, sign))
    return issue.keep(db, by, draft, content, drawn.pdf)


def _drawn(content: FlowCertificate, sign: Sign | None) -> bytes:
    return signed(papers.flow_certificate(content), content.display.language, sign)
