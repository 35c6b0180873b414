"""The receipt of a payment, deposit or refund."""

from __future__ import annotations

from sqlalchemy.orm import Session

from shopflow.models import Payment
from shopflow.papers.receipt import Receipt
from shopflow.services import balances, paper_facts


def receipt(db: Session, row: Payment) -> Receipt:
    """What was received or paid back, for its receipt."""
    return Receipt(
        shop=paper_facts.letterhead(db),
        display=paper_facts.display(db),
        title=receipt_title(row),
        customer=paper_facts.party(row.job),
        job=paper_facts.job_facts(db, row.job),
        heads=paper_facts.heads_in_words(row.job),
        number=str(row.id),
        received_on=row.received_on,
        amount=row.amount,
        method=row.method,
        note=row.note,
        recorded_by=row.recorded_by.name if row.recorded_by else "",
        recorded_at=row.recorded_at,
        left=balances.of_job(db, row.job).left,
    )


def receipt_title(row: Payment) -> str:
    """The heading of a payment's receipt."""
    if row.amount < 0:
        return "Refund receipt"
    return "Deposit receipt" if row.is_deposit else "Receipt"
