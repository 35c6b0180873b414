"""The paper of a purchase order."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy.orm import Session

from shopflow import documents
from shopflow.documents.purchase_order import OrderedPart
from shopflow.documents.purchase_order import PurchaseOrder as OrderPaper
from shopflow.models import OrderState, PurchaseOrder
from shopflow.services.paperwork import facts


def purchase_order(db: Session, order: PurchaseOrder, at: datetime) -> OrderPaper:
    """An order as it stands, in the shop's language."""
    supplier = order.supplier
    is_cancelled = order.state is OrderState.CANCELLED
    return OrderPaper(
        shop=facts.letterhead(db),
        display=facts.display(db),
        supplier=documents.Party(supplier.name, supplier.address, supplier.phone, supplier.email),
        contact=supplier.contact,
        account_number=supplier.account_number,
        number=order.number,
        placed_at=order.placed_at,
        placed_by=order.placed_by.name if order.placed_by else "",
        expected_on=order.expected_on,
        notes=order.notes,
        lines=tuple(
            OrderedPart(
                line.supplier_number,
                line.description,
                f"{line.quantity} {line.unit}".rstrip(),
                line.cost,
                line.amount,
            )
            for line in order.lines
        ),
        total=order.total,
        cancelled=order.cancel_reason if is_cancelled else "",
        made_at=at,
    )
