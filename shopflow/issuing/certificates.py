"""Issuing flow certificates."""

from __future__ import annotations

from collections.abc import Callable

from sqlalchemy.orm import Session

from shopflow import papers
from shopflow.issuing.language import in_shops_language
from shopflow.models import Certificate, CertificateDraft
from shopflow.services.actor import Actor
from shopflow.services.certificates import issue

Sign = Callable[[bytes], bytes]
"""Puts the shop's signature on a PDF."""


@in_shops_language
def issue_certificate(
    db: Session, by: Actor, draft: CertificateDraft, sign: Sign | None = None
) -> Certificate:
    """Issue what a checked draft states. Raises RuleError as `issue.numbered`."""
    content = issue.numbered(db, by, draft)
    pdf = papers.flow_certificate(content)
    return issue.keep(db, by, draft, content, pdf if sign is None else sign(pdf))
