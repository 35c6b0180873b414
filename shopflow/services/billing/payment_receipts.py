"""The receipt of a payment, deposit or refund."""

from __future__ import annotations

from sqlalchemy.orm import Session

from shopflow.documents.receipt import Receipt
from shopflow.models import Payment
from shopflow.services.billing import balances
from shopflow.services.paperwork import facts
from shopflow.services.paperwork.language import spoken_for
from shopflow.texts import gettext


def receipt(db: Session, row: Payment) -> Receipt:
    """Contents of the receipt for a payment or a repayment."""
    with spoken_for(db, row.job.customer):
        return Receipt(
            shop=facts.letterhead(db),
            display=facts.display(db, row.job.customer),
            title=receipt_title(row),
            customer=facts.party(row.job),
            job=facts.job_facts(db, row.job),
            heads=facts.heads_in_words(row.job),
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
        return gettext("Refund receipt")
    return gettext("Deposit receipt") if row.is_deposit else gettext("Receipt")
