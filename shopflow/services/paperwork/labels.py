"""The labels of a job's heads, and of bins."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime

from sqlalchemy.orm import Session

from shopflow.documents.labels import LABELS
from shopflow.documents.tags import BinLabel, BinLabelSheet, Tag, TagSheet
from shopflow.errors import FieldError, ValidationError
from shopflow.models import Part, Visit
from shopflow.services.paperwork import facts
from shopflow.services.shop.house_style import the_style
from shopflow.services.shop.settings import get_shop
from shopflow.texts import gettext

MOST_COPIES = 20


def sheet(
    db: Session, visits: list[Visit], *, label: str = "", start: int = 1, copies: int = 1
) -> TagSheet:
    """The labels to print: `copies` of each head's, on the shop's usual size where none is named.

    Raises ValidationError at `label`, `start` or `copies`.
    """
    chosen = checked(db, label, start, copies)
    tags = tuple(_tag(db, visit) for visit in visits for _ in range(copies))
    return TagSheet(get_shop(db).name, tags, chosen, datetime.now(UTC), start)


def of_bins(
    db: Session, parts: Sequence[Part], *, label: str = "", start: int = 1, copies: int = 1
) -> BinLabelSheet:
    """The labels of the bins of these parts. Raises ValidationError as `sheet`."""
    chosen = checked(db, label, start, copies)
    web = get_shop(db).web_address
    labels = tuple(
        BinLabel(part.bin, part.number, part.name, f"{web}/parts/{part.id}" if web else "")
        for part in parts
        for _ in range(copies)
    )
    return BinLabelSheet(get_shop(db).name, labels, chosen, datetime.now(UTC), start)


def checked(db: Session, label: str, start: int, copies: int) -> str:
    """Size of label to print on: the one named, else the shop's usual one.

    Raises ValidationError at `label`, `start` or `copies`.
    """
    chosen = label or the_style(db).label_size
    if chosen not in LABELS:
        raise ValidationError(
            [FieldError("label", gettext("one of {labels}", labels=", ".join(LABELS)))]
        )
    faults = []
    on_a_page = LABELS[chosen].on_a_page
    if not 1 <= start <= on_a_page:
        faults.append(
            FieldError(
                "start",
                gettext("this size has labels 1 to {on_a_page} on a page", on_a_page=on_a_page),
            )
        )
    if not 1 <= copies <= MOST_COPIES:
        faults.append(
            FieldError("copies", gettext("from 1 to {most_copies}", most_copies=MOST_COPIES))
        )
    if faults:
        raise ValidationError(faults)
    return chosen


def initials(name: str) -> str:
    """The first letters of a name's words.

    >>> initials("Mara von Oslund")
    'M. v. O.'
    """
    return " ".join(f"{word[0]}." for word in name.split())


def _tag(db: Session, visit: Visit) -> Tag:
    name = visit.job.customer.name
    return Tag(
        tag=visit.tag,
        job=visit.job.number,
        customer=initials(name) if the_style(db).label_name == "initials" else name,
        engine_type=visit.head.engine_type.title,
        casting=visit.head.casting_number,
        promised=facts.display(db).day(visit.job.promised_on),
        url=facts.head_address(db, visit),
    )
