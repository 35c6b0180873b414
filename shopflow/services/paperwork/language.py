"""The language of a document and of a private page: its customer's, or else the shop's.

A document carries its language (`Display.language`) and is drawn in it whoever prints it, and
again years later. Its data are filled with `spoken_for`, so that what services say in it agrees.
A customer's own language brings its order of dates; else dates are as the house style has them.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.orm import Session

from shopflow.models import Customer
from shopflow.services.shop import settings
from shopflow.services.shop.house_style import the_style
from shopflow.services.shop.settings import shop_or_none
from shopflow.texts import spoken

DATE_FORMATS = {"en_US": "mdy", "en_GB": "dmy"}
"""Order of dates of each language, a key of documents.dates.FORMATS."""


def language_for(db: Session, customer: Customer | None) -> str:
    """The language of documents and mail for a customer; the shop's for none."""
    shops = settings.language(shop_or_none(db))
    return (customer.language if customer is not None else "") or shops


def date_format_for(db: Session, customer: Customer | None) -> str:
    """The order of dates on documents for a customer, a key of documents.dates.FORMATS."""
    language = language_for(db, customer)
    if language == settings.language(shop_or_none(db)):
        return the_style(db).date_format
    return DATE_FORMATS[language]


@contextmanager
def spoken_for(db: Session, customer: Customer | None) -> Iterator[None]:
    """Have texts in the language of a customer's documents for a while."""
    with spoken(language_for(db, customer)):
        yield
