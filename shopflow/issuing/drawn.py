"""Documents that are not kept, drawn and signed as things stand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from sqlalchemy.orm import Session

from shopflow import papers
from shopflow.documents.inspection import InspectionReport
from shopflow.issuing.signature import Sign, signed, signing_key
from shopflow.models import Visit
from shopflow.services.hand_off import sheets


def hand_off(db: Session, visits: Sequence[Visit], sign: Sign | None = None) -> bytes:
    """The hand-off sheets of heads of one job."""
    key = signing_key(db, sign)
    content = [replace(sheets.hand_off(db, visit), signing_key=key) for visit in visits]
    return signed(papers.hand_off(*content), content[0].display.language, sign)


def inspection_report(db: Session, report: InspectionReport, sign: Sign | None = None) -> bytes:
    """An inspection report."""
    content = replace(report, signing_key=signing_key(db, sign))
    return signed(papers.inspection_report(content), content.display.language, sign)
