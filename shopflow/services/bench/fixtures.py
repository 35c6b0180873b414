"""Fixtures of the shop's flow benches: adding, changing and archiving them, and their photos."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from shopflow.calc.set_up import Part
from shopflow.errors import FieldError, NotFoundError, RuleError, ValidationError
from shopflow.files import FileStore, UnfitFileError
from shopflow.files import read as read_contents
from shopflow.models import BenchSession, Fixture, FixtureKind
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.set_up_words import answer, built_in
from shopflow.texts import gettext

SPECIFICATION: fields.Specification = {
    "kind": fields.one_of(FixtureKind),
    "name": fields.text(required=True, most=60),
    "bore": fields.quantity("length", above=0.0),
    "length": fields.quantity("length", above=0.0),
    "radius": fields.quantity("length", above=0.0),
    "notes": fields.words(),
}
STATED = ("kind", "name", "bore", "length", "radius")
"""Fields that tests repeat when they name a fixture."""

KINDS = {
    Part.SLEEVE: (FixtureKind.SLEEVE,),
    Part.INLET: (FixtureKind.INLET_PLATE, FixtureKind.CLAY),
    Part.STUB: (FixtureKind.STUB,),
    Part.MANIFOLD: (FixtureKind.MANIFOLD,),
    Part.CARBURETOR: (FixtureKind.CARBURETOR,),
    Part.HEADER: (FixtureKind.HEADER,),
    Part.SPARK_PLUG: (FixtureKind.SPARK_PLUG,),
    Part.GUIDE: (FixtureKind.GUIDE,),
}
"""Kinds of fixtures that may stand in each part of a set-up."""


@dataclass(frozen=True, slots=True)
class Photo:
    """A photo made fit and put into the store, by its names there."""

    photo_sha256: str
    photo_small_sha256: str


def list_all(db: Session) -> list[Fixture]:
    """Every fixture by kind and name, those in use first."""
    rows = db.scalars(select(Fixture).order_by(Fixture.name)).all()
    order = list(FixtureKind)
    return sorted(rows, key=lambda row: (row.archived_at is not None, order.index(row.kind)))


def get(db: Session, fixture_id: int) -> Fixture:
    """The fixture with this key. Raises NotFoundError."""
    row = db.get(Fixture, fixture_id)
    if row is None:
        raise NotFoundError(gettext("this fixture does not exist"))
    return row


def with_photo(db: Session, fixture_id: int) -> Fixture:
    """The fixture with this key. Raises NotFoundError where it is not there or has no photo."""
    row = get(db, fixture_id)
    if not row.photo_sha256:
        raise NotFoundError(gettext("this fixture has no photo"))
    return row


def create(
    db: Session, by: Actor, values: Mapping[str, Any], photo: Photo | None = None
) -> Fixture:
    """Add a fixture. Raises ValidationError."""
    row = Fixture(**fields.require(SPECIFICATION, values, "kind", "name"))
    _must_be_new(db, row.kind, row.name, None)
    if photo is not None:
        _set_photo(row, photo)
    db.add(row)
    audit_log.record(db, by, row, "added", note=row.name)
    return row


def change(
    db: Session, by: Actor, row: Fixture, values: Mapping[str, Any], photo: Photo | None = None
) -> Fixture:
    """Change a fixture. Raises ValidationError, and RuleError where tests state what it was."""
    clean = fields.read(SPECIFICATION, values)
    _must_be_new(db, clean.get("kind", row.kind), clean.get("name", row.name), row)
    if any(clean.get(name, getattr(row, name)) != getattr(row, name) for name in STATED) and (
        is_named(db, row)
    ):
        raise RuleError(
            gettext(
                "tests name this fixture by its kind, name and sizes: archive it and add another"
            )
        )
    if photo is not None:
        _set_photo(row, photo)
    audit_log.change(db, by, row, clean)
    return row


def archive(db: Session, by: Actor, row: Fixture) -> None:
    """Offer a fixture to new tests no longer."""
    audit_log.change(db, by, row, {"archived_at": by.at}, verb="archived")


def restore(db: Session, by: Actor, row: Fixture) -> None:
    """Offer a fixture to new tests again."""
    audit_log.change(db, by, row, {"archived_at": None}, verb="restored")


def is_named(db: Session, row: Fixture) -> bool:
    """True where a flow test, counted or withdrawn, names the fixture."""
    columns = [getattr(BenchSession, f"set_up_{part}") for part in _parts(row.kind)]
    query = select(BenchSession.id).where(or_(*(column == row.stated for column in columns)))
    return db.scalar(query.limit(1)) is not None


def stage_photo(store: FileStore, content: bytes) -> Photo | None:
    """Put a photo into the store; None where nothing was sent.

    Raises ValidationError at `photo_file` where it is no picture.
    """
    if not content:
        return None
    try:
        contents = read_contents(content)
    except UnfitFileError as error:
        raise ValidationError([FieldError("photo_file", str(error))]) from None
    if not contents.is_picture:
        raise ValidationError([FieldError("photo_file", gettext("choose a photo"))])
    return Photo(store.put(contents.content), store.put(contents.small))


def answers(db: Session) -> dict[Part, list[tuple[str, str]]]:
    """For each part of a set-up what may stand there: the text that tests state, and its words."""
    in_use = [row for row in list_all(db) if row.archived_at is None]
    return {
        part: [
            *((row.stated, answer(part, row.stated)) for row in in_use if row.kind in KINDS[part]),
            *((text, answer(part, text)) for text in built_in(part)),
        ]
        for part in Part
    }


def _parts(kind: FixtureKind) -> list[str]:
    return [part.value for part, kinds in KINDS.items() if kind in kinds]


def _set_photo(row: Fixture, photo: Photo) -> None:
    row.photo_sha256, row.photo_small_sha256 = photo.photo_sha256, photo.photo_small_sha256


def _must_be_new(db: Session, kind: FixtureKind, name: str, but: Fixture | None) -> None:
    query = select(Fixture).where(Fixture.kind == kind, Fixture.name == name)
    with db.no_autoflush:
        other = db.scalar(query)
    if other is not None and other is not but:
        words = gettext("there is one of this name already: choose another name")
        raise ValidationError([FieldError("name", words)])
