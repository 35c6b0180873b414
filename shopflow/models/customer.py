"""The people and firms whose heads the shop works on."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from typing import TYPE_CHECKING

from sqlalchemy import CheckConstraint, Date, ForeignKey, String, false
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import (
    Base,
    DecimalText,
    Id,
    Line,
    Moment,
    Name,
    UtcDateTime,
    Versioned,
    Words,
    choice,
)
from shopflow.models.tax_class import ExemptionKind

if TYPE_CHECKING:
    from shopflow.models.job import Job
    from shopflow.models.person import User


class Customer(Versioned, Base):
    """A person or firm."""

    __tablename__ = "customer"
    __table_args__ = (
        CheckConstraint("name <> ''", name="name_given"),
        CheckConstraint("language IN ('', 'en_US', 'en_GB')", name="language"),
    )

    id: Mapped[Id]
    name: Mapped[str] = mapped_column(String(200), index=True)
    is_firm: Mapped[bool] = mapped_column(default=False)
    email: Mapped[Line]
    phone: Mapped[Line]
    address: Mapped[Words]
    tax_rate_percent: Mapped[Decimal | None] = mapped_column(DecimalText)
    """Tax rate, if it differs from the shop's own; zero for the exempt."""

    tax_exemption: Mapped[Line]
    """Reason why no tax is due."""

    exemption_certificate: Mapped[Line] = mapped_column(server_default="")
    """Number of the certificate of exemption."""

    exemption_valid_until: Mapped[date | None] = mapped_column(Date)
    exemption_kind: Mapped[ExemptionKind] = mapped_column(
        choice(ExemptionKind),
        default=ExemptionKind.EXEMPT,
        server_default=ExemptionKind.EXEMPT.value,
    )
    country: Mapped[str] = mapped_column(String(2), default="", server_default="")
    """As ISO 3166-1 alpha-2 has it; empty for the shop's own."""

    vat_id: Mapped[Line] = mapped_column(server_default="")
    buyer_reference: Mapped[Line] = mapped_column(server_default="")
    """Reference that the customer routes invoices by."""

    notes: Mapped[Words]
    language: Mapped[str] = mapped_column(String(10), default="")
    """Language of documents and mail for them, a key of texts.LANGUAGES; empty for the shop's."""

    created_at: Mapped[Moment]
    open_data_consent: Mapped[bool] = mapped_column(default=False, server_default=false())
    """True where results of their heads may be published without names."""

    open_data_consent_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    """Time when consent was recorded or withdrawn last."""

    open_data_consent_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))

    contacts: Mapped[list[Contact]] = relationship(
        back_populates="customer", cascade="all, delete-orphan", order_by="Contact.id"
    )
    jobs: Mapped[list[Job]] = relationship(back_populates="customer")
    open_data_consent_by: Mapped[User | None] = relationship()


class Contact(Base):
    """A person to ask for at a customer's."""

    __tablename__ = "contact"

    id: Mapped[Id]
    customer_id: Mapped[int] = mapped_column(ForeignKey("customer.id"), index=True)
    name: Mapped[Name]
    role: Mapped[Line]
    phone: Mapped[Line]
    email: Mapped[Line]

    customer: Mapped[Customer] = relationship(back_populates="contacts")
