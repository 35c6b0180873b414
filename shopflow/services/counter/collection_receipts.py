"""The receipt or dispatch note of a collection."""

from __future__ import annotations

from sqlalchemy.orm import Session

from shopflow.documents.collection import CollectionReceipt, PartBack
from shopflow.models import Collection, HandedOver
from shopflow.services.paperwork import facts
from shopflow.services.paperwork.language import spoken_for


def collection(db: Session, row: Collection) -> CollectionReceipt:
    """Contents of the receipt for the heads and parts that left the shop."""
    job = row.job
    with spoken_for(db, job.customer):
        return CollectionReceipt(
            shop=facts.letterhead(db),
            display=facts.display(db, job.customer),
            customer=facts.party(job),
            job=facts.job_facts(db, job),
            heads=facts.heads_in_words(job),
            shipped=row.how is HandedOver.SHIPPED,
            handed_to=row.handed_to,
            handed_on=row.handed_on,
            handed_over_by=row.recorded_by.name if row.recorded_by else "",
            recorded_at=row.recorded_at,
            parts=tuple(PartBack(**part) for part in row.parts),
            papers=tuple(row.papers),
            carrier=row.carrier,
            parcels=row.parcels,
            tracking_number=row.tracking_number,
            packed_by=row.packed_by,
            balance=row.balance,
            remarks=row.remarks,
        )
