"""The annex of a flow certificate: coefficients, method, uncertainty, how the numbers are made."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Flowable

from shopflow.documents import FlowCertificate, SessionResult
from shopflow.papers.budget import budget_block
from shopflow.papers.certificate_charts import coefficient_charts
from shopflow.papers.curves import MOST_CURVES
from shopflow.papers.explained import explained_block
from shopflow.papers.flow_test import coefficients_block
from shopflow.papers.style import gap, heading, paper_title, paragraphs
from shopflow.texts import gettext


def annex_block(certificate: FlowCertificate, width: float) -> list[Flowable]:
    """Method, uncertainty with each test's budget, and how the numbers are made."""
    story: list[Flowable] = [
        gap(10),
        CondPageBreak(60 * mm),
        paper_title(gettext("Annex to certificate {certificate}", certificate=certificate.title)),
        *_coefficients(certificate, width),
        *heading(gettext("Method")),
        *paragraphs((*certificate.method, certificate.compared_with)),
        *heading(gettext("Uncertainty")),
        *paragraphs(certificate.uncertainty),
    ]
    for session in _budgeted(certificate.sessions):
        story += budget_block(session, certificate.display, width)
    return [*story, *explained_block(certificate.explained)]


def _budgeted(sessions: Sequence[SessionResult]) -> list[SessionResult]:
    """The tests whose budgets are printed: of many the one with the highest flow of each side.

    The others' follow from their files, which are attached.
    """
    if len(sessions) <= MOST_CURVES:
        return list(sessions)
    sides = dict.fromkeys(item.side for item in sessions)
    return [
        max((item for item in sessions if item.side == side), key=_highest_flow) for side in sides
    ]


def _highest_flow(session: SessionResult) -> float:
    return max(point.flow for point in session.points)


def _coefficients(certificate: FlowCertificate, width: float) -> list[Flowable]:
    """Coefficients, velocity and energy of each test, with their charts."""
    tables = [
        part
        for session in certificate.sessions
        for part in coefficients_block(session, certificate.display, width)
    ]
    charts = coefficient_charts(certificate, width)
    return [*heading(gettext("Coefficients, velocity and energy")), *charts, *tables]
