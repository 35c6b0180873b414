"""The price list: usual prices of steps and parts, by engine type and number of valves."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlalchemy import CheckConstraint, ForeignKey, String, false
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Amount, Base, Id, Line, Versioned, choice
from shopflow.models.tax_class import TaxClass

if TYPE_CHECKING:
    from shopflow.models.engine_type import EngineType
    from shopflow.models.operation import OperationKind


class PriceEntry(Versioned, Base):
    """A price of a step or a part; of an engine type or a number of valves, where it names one."""

    __tablename__ = "price_entry"
    __table_args__ = (
        CheckConstraint("price >= 0", name="price_not_negative"),
        CheckConstraint("valves > 0", name="valves_counted"),
        CheckConstraint("(kind_id IS NULL) <> (description = '')", name="of_one"),
    )

    id: Mapped[Id]
    kind_id: Mapped[int | None] = mapped_column(ForeignKey("operation_kind.id"), index=True)
    """The type of step; none where it is a part's price."""

    description: Mapped[Line]
    """Of a part; empty where it is a step's price."""

    part_number: Mapped[Line]
    unit: Mapped[str] = mapped_column(String(20), default="")
    engine_type_id: Mapped[int | None] = mapped_column(ForeignKey("engine_type.id"), index=True)
    valves: Mapped[int | None]
    """Number of valves of the heads it is for; none for any."""

    price: Mapped[Amount]
    per_valve: Mapped[bool] = mapped_column(default=False, server_default=false())
    """True where a step's price is for one valve of the head."""

    tax_class: Mapped[TaxClass] = mapped_column(choice(TaxClass), default=TaxClass.STANDARD)
    """Of a part; a step has that of its type."""

    kind: Mapped[OperationKind | None] = relationship()
    engine_type: Mapped[EngineType | None] = relationship()

    @property
    def title(self) -> str:
        """Name of the step or the part."""
        return self.kind.name if self.kind else self.description
