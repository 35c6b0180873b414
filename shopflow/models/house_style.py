"""Look of the shop's documents and wording of its invoices: one row, created at the first
change."""

from __future__ import annotations

from typing import Any

from sqlalchemy import CheckConstraint, LargeBinary, String, false
from sqlalchemy.orm import Mapped, mapped_column

from shopflow.models.base import Base, Line, Versioned, Words
from shopflow.texts import gettext_noop

DEFAULTS: dict[str, Any] = {
    "id": 1,
    "logo": b"",
    "accent": "#0f4c75",
    "second": "#5a6472",
    "date_format": "iso",
    "label_size": "62x100",
    "label_name": "name",
    "tax_label": gettext_noop("Tax"),
    "tax_number": "",
    "payment_terms": "",
    "payment_days": 14,
    "payment_to": "",
    "e_invoices": False,
    "vat_id": "",
    "iban": "",
    "bic": "",
    "quote_days": 30,
    "quote_conditions": "",
    "quote_forecasts": False,
}


class HouseStyle(Versioned, Base):
    """Logo, colours, dates and labels of the papers; tax, terms and account of the money ones."""

    __tablename__ = "house_style"
    __table_args__ = (
        CheckConstraint("id = 1", name="only_one"),
        CheckConstraint("payment_days >= 0", name="payment_days_not_negative"),
        CheckConstraint("quote_days >= 1", name="quote_days_positive"),
        CheckConstraint("label_name IN ('name', 'initials')", name="label_name"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    logo: Mapped[bytes] = mapped_column(LargeBinary)
    """A PNG of at most services.house_style.LOGO pixels; empty where there is none."""

    accent: Mapped[str] = mapped_column(String(7))
    second: Mapped[str] = mapped_column(String(7))
    date_format: Mapped[str] = mapped_column(String(10))
    label_size: Mapped[str] = mapped_column(String(20))
    label_name: Mapped[str] = mapped_column(String(10))
    """Form of the customer's name on labels: "name" or "initials"."""

    tax_label: Mapped[Line]
    tax_number: Mapped[Line]
    payment_terms: Mapped[Words]
    payment_days: Mapped[int]
    payment_to: Mapped[Words]
    """Account and ways to pay, as printed on invoices."""

    e_invoices: Mapped[bool] = mapped_column(default=False, server_default=false())
    """True where invoices carry themselves as EN 16931, for programs."""

    vat_id: Mapped[Line] = mapped_column(server_default="")
    iban: Mapped[Line] = mapped_column(server_default="")
    bic: Mapped[Line] = mapped_column(server_default="")
    quote_days: Mapped[int]
    quote_conditions: Mapped[Words]
    quote_forecasts: Mapped[bool] = mapped_column(default=False, server_default=false())
    """True where quotes state what the shop's past tests forecast of the work."""

    def __init__(self, **values: Any) -> None:
        # All of it is known before the row is kept: papers are printed from it either way.
        super().__init__(**{**DEFAULTS, **values})
