"""Columns that the lines of quotes, approvals and invoices share."""

from __future__ import annotations

from sqlalchemy import CheckConstraint, ForeignKey, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column
from sqlalchemy.schema import SchemaItem

from shopflow.models.base import Amount


class DocumentLine:
    """A step or a line of a job on a document, at a price before tax."""

    position: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    operation_id: Mapped[int | None] = mapped_column(ForeignKey("operation.id"), index=True)
    job_line_id: Mapped[int | None] = mapped_column(ForeignKey("job_line.id"), index=True)
    price: Mapped[Amount]
    """Below zero for a discount."""

    @property
    def key(self) -> str:
        """Key of what it is for, as `Operation.key` and `JobLine.key`."""
        if self.operation_id is not None:
            return str(self.operation_id)
        return f"line-{self.job_line_id}"


def of_one(document: str) -> tuple[SchemaItem, ...]:
    """Constraints of the lines of a document: each is for a step or a line, and for it once."""
    return (
        CheckConstraint("price >= 0 OR job_line_id IS NOT NULL", name="price_not_negative"),
        CheckConstraint("(operation_id IS NULL) <> (job_line_id IS NULL)", name="of_one"),
        UniqueConstraint(f"{document}_id", "operation_id"),
        UniqueConstraint(f"{document}_id", "job_line_id"),
    )
