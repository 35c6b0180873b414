"""The house style: how papers look, and what money papers say of tax, terms and account."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy.orm import Session

from shopflow.documents import countries
from shopflow.documents.colours import RULE_CONTRAST, TEXT_CONTRAST, contrast_on_white
from shopflow.documents.dates import FORMATS
from shopflow.documents.labels import LABELS
from shopflow.errors import FieldError, ValidationError
from shopflow.files import pictures
from shopflow.models import HouseStyle
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.shop import tax_ids
from shopflow.services.shop.settings import get_shop
from shopflow.texts import gettext

LARGEST_UPLOAD = 4 * 1024 * 1024


def _colour(least: float) -> fields.Reader:
    """A colour that stands out from white paper by this contrast."""

    def reader(value: Any) -> str:
        colour = str(value or "").strip().lower()
        contrast = contrast_on_white(colour)
        if contrast < least:
            raise ValueError(
                gettext(
                    "too light to see on white: choose a darker color (contrast {contrast:.1f}, "
                    "at least {least:g} needed)",
                    contrast=contrast,
                    least=least,
                )
            )
        return colour

    return reader


SPECIFICATION: fields.Specification = {
    "accent": _colour(TEXT_CONTRAST),
    "second": _colour(RULE_CONTRAST),
    "date_format": fields.among(*FORMATS),
    "label_size": fields.among(*LABELS),
    "label_name": fields.among("name", "initials"),
    "tax_label": fields.text(required=True, most=40),
    "tax_number": fields.text(most=60),
    "payment_terms": fields.text(most=2000),
    "payment_days": fields.count(required=True),
    "payment_to": fields.text(most=2000),
    "e_invoices": fields.flag(),
    "vat_id": tax_ids.vat_id,
    "iban": tax_ids.iban,
    "bic": tax_ids.bic,
    "quote_days": fields.count(least=1, required=True),
    "quote_conditions": fields.text(most=6000),
    "quote_forecasts": fields.flag(),
}


def the_style(db: Session) -> HouseStyle:
    """The house style; one of defaults, not kept yet, where the shop has changed nothing."""
    return db.get(HouseStyle, 1) or HouseStyle()


def change(db: Session, by: Actor, style: HouseStyle, values: Mapping[str, Any]) -> HouseStyle:
    """Change the house style. Raises ValidationError."""
    clean = fields.read(SPECIFICATION, values)
    if clean.get("e_invoices"):
        _check_e_invoices(db, style, clean)
    return _keep(db, by, style, clean)


def _check_e_invoices(db: Session, style: HouseStyle, values: Mapping[str, Any]) -> None:
    """Raise ValidationError where invoices as EN 16931 would lack a statement about the shop."""
    shop = get_shop(db)
    faults = []
    if shop.country not in countries.EU:
        words = gettext("choose the shop's country in Shop settings first: it must be in the EU")
        faults.append(FieldError("e_invoices", words))
    if not shop.address:
        words = gettext("enter the shop's address in Shop settings first")
        faults.append(FieldError("e_invoices", words))
    numbers = (values.get(name, getattr(style, name)) for name in ("vat_id", "tax_number"))
    if not any(numbers):
        words = gettext("enter the shop's VAT number or tax number")
        faults.append(FieldError("vat_id", words))
    if faults:
        raise ValidationError(faults)


def set_logo(db: Session, by: Actor, style: HouseStyle, logo: bytes) -> HouseStyle:
    """Keep a logo as `picture` made it, or none where it is empty."""
    return _keep(db, by, style, {"logo": logo})


def picture(content: bytes) -> bytes:
    """A PNG or JPEG file, told by its content, as a small PNG on white with nothing else in it.

    The slow part of setting a logo, which needs no database. Raises ValidationError at `logo_file`
    where it is neither, cannot be read, or is too large.
    """
    if len(content) > LARGEST_UPLOAD:
        raise ValidationError(
            [FieldError("logo_file", gettext("larger than 4 MB: save it smaller"))]
        )
    try:
        return pictures.logo(content)
    except pictures.UnreadableError as error:
        raise ValidationError([FieldError("logo_file", str(error))]) from None


def _keep(db: Session, by: Actor, style: HouseStyle, values: Mapping[str, Any]) -> HouseStyle:
    db.add(style)
    audit_log.change(db, by, style, values)
    return style
