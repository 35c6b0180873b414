"""A job's page as its customer sees it, by a link or shown to the shop."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from flask import render_template, url_for

from shopflow.models import Certificate, Invoice, JobFile
from shopflow.services.billing import e_invoices
from shopflow.services.counter.customer_view import CustomerView
from shopflow.web.bench.sessions.figures import TitledChart, flow_charts


@dataclass(frozen=True)
class Addresses:
    """Addresses of the page's documents and photos: under the link, or under the shop's own
    pages."""

    token: str | None

    def certificate(self, row: Certificate) -> str:
        """A certificate's PDF."""
        named: dict[str, Any] = {"number": row.number, "revision": row.revision}
        if self.token is None:
            return url_for("papers.certificate", **named)
        return url_for("customer_view.certificate", token=self.token, **named)

    def inspection(self, number: str) -> str:
        """The job's inspection report."""
        if self.token is None:
            return url_for("papers.inspection_report", number=number)
        return url_for("customer_view.inspection_report", token=self.token)

    def invoice(self, row: Invoice, form: str = "") -> str:
        """An invoice's PDF, or in another form as "xml"."""
        name = f"invoice_{form}" if form else "invoice"
        if self.token is None:
            return url_for(f"papers.{name}", number=row.number)
        return url_for(f"customer_view.{name}", token=self.token, number=row.number)

    def file(self, row: JobFile) -> str:
        """A photo, or a document to save."""
        return self._of_file("file", row)

    def thumbnail(self, row: JobFile) -> str:
        """A photo's small form."""
        return self._of_file("thumbnail", row)

    def _of_file(self, endpoint: str, row: JobFile) -> str:
        if self.token is None:
            return url_for(f"attachments.{endpoint}", file_id=row.id)
        return url_for(f"customer_view.{endpoint}", token=self.token, file_id=row.id)


def job_page(view: CustomerView, token: str | None) -> str:
    """The page; without a token it is shown to the shop itself."""
    return render_template(
        "customer_view/job.html",
        view=view,
        addresses=Addresses(token),
        charts=_charts(view),
        electronic={row.id for row in view.invoices if e_invoices.is_in(row)},
        previewed=token is None,
    )


def _charts(view: CustomerView) -> dict[int, list[TitledChart]]:
    """The curves of each certificate, by its key."""
    return {
        certificate.row.id: flow_charts(certificate.sessions, f"certificate-{certificate.row.id}")
        for certificate in view.certificates
        if certificate.sessions
    }
