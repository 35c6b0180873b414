"""Issuing flow certificates."""

from __future__ import annotations

from collections.abc import Callable

from sqlalchemy.orm import Session

from shopflow import papers
from shopflow.models import Certificate, CertificateDraft
from shopflow.services.actor import Actor
from shopflow.services.certificates import issue
from shopflow.texts import spoken

Sign = Callable[[bytes], bytes]
"""Puts the shop's signature on a PDF."""


def issue_certificate(
    db: Session, by: Actor, draft: CertificateDraft, sign: Sign | None = None
) -> Certificate:
    """Issue what a checked draft states. Raises RuleError as `issue.numbered`."""
    content = issue.numbered(db, by, draft)
    pdf = papers.flow_certificate(content)
    if sign is not None:
        # The signature states its reason in the certificate's language.
        with spoken(content.display.language):
            pdf = sign(pdf)
    return issue.keep(db, by, draft, content, pdf)
