"""Lines of a job beside its steps: parts, outside work, freight, fees, discounts and text."""

from __future__ import annotations

from datetime import datetime
from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum
from typing import TYPE_CHECKING

from sqlalchemy import CheckConstraint, ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import (
    Base,
    DecimalText,
    Id,
    Line,
    Name,
    Price,
    UtcDateTime,
    Versioned,
    choice,
)
from shopflow.models.tax_class import TaxClass
from shopflow.texts import gettext_noop

if TYPE_CHECKING:
    from shopflow.models.job import Job, Visit
    from shopflow.models.part_need import PartNeed

HUNDREDTH = Decimal("0.01")


class LineKind(StrEnum):
    """Kind of a line; work has no line of its own: the steps are charged themselves."""

    PART = gettext_noop("part")
    OUTSIDE_WORK = gettext_noop("outside work")
    FREIGHT = gettext_noop("freight")
    FEE = gettext_noop("fee")
    DISCOUNT = gettext_noop("discount")
    TEXT = gettext_noop("text")
    DEPOSIT = gettext_noop("deposit")
    """Invoiced ahead of the work, and taken off the invoices that follow."""

    PACKAGE = gettext_noop("package")
    """Several steps and parts at a price of their own."""


class LineState(StrEnum):
    """State of a line."""

    CHARGED = gettext_noop("charged")
    DECLINED = gettext_noop("declined")
    """The customer does not want it."""

    REMOVED = gettext_noop("removed")
    """Taken off by the shop; quotes that offered it still name it."""


class DiscountOf(StrEnum):
    """Charges that a discount in per cent is taken of."""

    EVERYTHING = gettext_noop("everything")
    WORK = gettext_noop("work")
    PARTS = gettext_noop("parts")


class JobLine(Versioned, Base):
    """One line of a job, of one of its heads or of the whole."""

    __tablename__ = "job_line"
    __table_args__ = (
        CheckConstraint("unit_price >= 0", name="unit_price_not_negative"),
        CheckConstraint("description <> ''", name="described"),
        CheckConstraint("percent IS NULL OR kind = 'discount'", name="percent_of_discount"),
    )

    id: Mapped[Id]
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    job_head_id: Mapped[int | None] = mapped_column(ForeignKey("job_head.id"), index=True)
    """The head it is for; none where it is for the whole job."""

    position: Mapped[int]
    kind: Mapped[LineKind] = mapped_column(choice(LineKind))
    state: Mapped[LineState] = mapped_column(choice(LineState), default=LineState.CHARGED)
    description: Mapped[Name]
    part_number: Mapped[Line]
    quantity: Mapped[Decimal] = mapped_column(DecimalText, default=Decimal(1))
    unit: Mapped[str] = mapped_column(String(20), default="")
    unit_price: Mapped[Price]
    """Blank while it is not priced; of a discount in money, the sum taken off."""

    percent: Mapped[Decimal | None] = mapped_column(DecimalText)
    """Per cent that a discount takes off; none where it is a sum."""

    discount_of: Mapped[DiscountOf] = mapped_column(
        choice(DiscountOf), default=DiscountOf.EVERYTHING
    )
    tax_class: Mapped[TaxClass] = mapped_column(choice(TaxClass), default=TaxClass.STANDARD)
    """Of a discount in per cent, each charge keeps its own."""

    package_id: Mapped[int | None] = mapped_column(ForeignKey("job_line.id"), index=True)
    """The package that includes it, at no price of its own."""

    added_at: Mapped[datetime] = mapped_column(UtcDateTime)

    job: Mapped[Job] = relationship(back_populates="lines")
    job_head: Mapped[Visit | None] = relationship()
    package: Mapped[JobLine | None] = relationship(remote_side="JobLine.id")
    need: Mapped[PartNeed | None] = relationship(back_populates="line")

    @property
    def key(self) -> str:
        """Its key among everything that is charged on a job."""
        return f"line-{self.id}"

    @property
    def is_step(self) -> bool:
        """False: a step is work, and is charged by itself."""
        return False

    @property
    def title(self) -> str:
        """Its description."""
        return self.description

    @property
    def tag(self) -> str:
        """Tag of its head; empty where it is for the whole job."""
        return self.job_head.tag if self.job_head else ""

    @property
    def is_discount(self) -> bool:
        """True where it is taken off."""
        return self.kind is LineKind.DISCOUNT

    @property
    def is_text(self) -> bool:
        """True where it only says something."""
        return self.kind is LineKind.TEXT

    @property
    def is_charge(self) -> bool:
        """True where it is work or goods, neither taken off nor a mere text."""
        return not (self.is_discount or self.is_text)

    @property
    def counts(self) -> bool:
        """True where it is charged for; a deposit is no charge of its own."""
        return self.state is LineState.CHARGED and self.kind is not LineKind.DEPOSIT

    @property
    def is_open(self) -> bool:
        """True where the customer may still be asked for it."""
        return self.counts

    @property
    def is_declined(self) -> bool:
        """True where the customer does not want it."""
        return self.state is LineState.DECLINED

    @property
    def can_be_declined(self) -> bool:
        """True where the customer may leave it out; what is in a package goes with that."""
        return self.is_charge and self.package_id is None

    @property
    def price(self) -> Decimal | None:
        """Quantity times unit price, rounded half up; none where it is not priced or in per cent.

        Below zero for a discount.
        """
        if self.is_text:
            return Decimal(0)
        if self.unit_price is None:
            return None
        amount = (self.quantity * self.unit_price).quantize(HUNDREDTH, ROUND_HALF_UP)
        return -amount if self.is_discount else amount

    @property
    def charge(self) -> Decimal | None:
        """Charge before tax: nothing where the shop bears the job."""
        return Decimal(0) if self.job.is_borne_by_shop else self.price
