"""Issuing documents: the layer above services and papers.

A service makes a document's data and takes its number, papers draw it, and the service stores data
and PDF together. All of it is one transaction of the caller's: where the drawing fails the number
goes back. A certificate, which takes longest, can be drawn before that under the number that comes
next. Services themselves know no renderer.
"""

from shopflow.issuing.billing import (
    give_quote,
    issue_credit_note,
    issue_deposit_invoice,
    issue_invoice,
)
from shopflow.issuing.certificates import Drawn, draw_certificate, issue_certificate
from shopflow.issuing.drawn import hand_off, inspection_report
from shopflow.issuing.signature import Sign

__all__ = [
    "Drawn",
    "Sign",
    "draw_certificate",
    "give_quote",
    "hand_off",
    "inspection_report",
    "issue_certificate",
    "issue_credit_note",
    "issue_deposit_invoice",
    "issue_invoice",
]
