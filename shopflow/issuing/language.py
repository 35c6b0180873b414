"""The language of documents that are issued: the shop's, whoever issues them."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec, TypeVar

from sqlalchemy.orm import Session

from shopflow.services.shop.settings import language_spoken

P = ParamSpec("P")
Document = TypeVar("Document")


def in_shops_language(
    issue: Callable[Concatenate[Session, P], Document],
) -> Callable[Concatenate[Session, P], Document]:
    """Issue a document with its texts in the shop's language."""

    @wraps(issue)
    def issued(db: Session, /, *args: P.args, **kwargs: P.kwargs) -> Document:
        with language_spoken(db):
            return issue(db, *args, **kwargs)

    return issued
