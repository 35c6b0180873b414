"""The papers of the invented shop."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow import papers
from shopflow.files import FileStore
from shopflow.models import (
    Certificate,
)
from shopflow.services.billing import invoices, quotes
from shopflow.services.counter import inspection_reports, work_orders
from shopflow.services.hand_off import sheets
from shopflow.services.jobs import jobs
from shopflow.services.paperwork import bench_cards, labels


def write(db: Session, folder: Path, store: FileStore) -> list[Path]:
    """Every paper of the invented shop as a PDF in a new folder."""
    folder.mkdir()
    written: list[Path] = []

    def keep(name: str, content: bytes) -> None:
        path = folder / f"{name}.pdf"
        path.write_bytes(content)
        written.append(path)

    lately = datetime.now(UTC) - timedelta(days=365)
    for certificate in db.scalars(select(Certificate).order_by(Certificate.number)):
        keep(f"flow-certificate-{certificate.number}", certificate.pdf)
    for job in jobs.recent(db):
        if job.is_open:
            keep(
                f"work-order-{job.number}",
                papers.work_order(work_orders.work_order(db, job, store)),
            )
            if inspection_reports.has_findings(db, job):
                report = inspection_reports.inspection_report(db, job, store)
                keep(f"inspection-report-{job.number}", papers.inspection_report(report))
            keep(f"bench-card-{job.number}", papers.bench_card(bench_cards.bench_card(db, job)))
            keep(f"tags-{job.number}", papers.tags(labels.sheet(db, job.heads)))
            for sent in quotes.of_job(db, job):
                keep(f"quote-{sent.number}-{sent.revision}", sent.pdf)
        for issued in invoices.of_job(db, job):
            keep(f"{issued.kind.replace(' ', '-')}-{issued.number}", issued.pdf)
        for visit in job.heads:
            if visit.hand_off is not None and visit.hand_off.written_at > lately:
                content = papers.hand_off(sheets.hand_off(db, visit))
                keep(f"hand-off-{visit.tag}", content)
    return written
