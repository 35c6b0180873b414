"""Fixtures: what stands on a flow bench beside the head, each a record of its own."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum

from sqlalchemy import CheckConstraint, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from shopflow.models.base import Base, Id, UtcDateTime, Versioned, Words, choice, quantity
from shopflow.texts import gettext, gettext_noop
from shopflow.units import Quantity, pretty_text


class FixtureKind(StrEnum):
    """Kind of a fixture."""

    SLEEVE = gettext_noop("bore sleeve")
    INLET_PLATE = gettext_noop("inlet plate")
    CLAY = gettext_noop("clay inlet")
    STUB = gettext_noop("exhaust stub")
    MANIFOLD = gettext_noop("manifold")
    CARBURETOR = gettext_noop("carburetor")
    HEADER = gettext_noop("header")
    SPARK_PLUG = gettext_noop("spark plug")
    GUIDE = gettext_noop("guide")


SIZES = ("bore", "length", "radius")


class Fixture(Versioned, Base):
    """A fixture with the sizes that matter to the flow."""

    __tablename__ = "fixture"
    __table_args__ = (
        UniqueConstraint("kind", "name"),
        CheckConstraint("name <> ''", name="named"),
        CheckConstraint("bore_si > 0", name="bore_positive"),
        CheckConstraint("length_si > 0", name="length_positive"),
        CheckConstraint("radius_si > 0", name="radius_positive"),
        CheckConstraint("(photo_sha256 = '') = (photo_small_sha256 = '')", name="photo_whole"),
    )

    id: Mapped[Id]
    kind: Mapped[FixtureKind] = mapped_column(choice(FixtureKind))
    name: Mapped[str] = mapped_column(String(60))
    bore: Mapped[Quantity | None] = quantity("bore", optional=True)
    length: Mapped[Quantity | None] = quantity("length", optional=True)
    radius: Mapped[Quantity | None] = quantity("radius", optional=True)
    notes: Mapped[Words]
    photo_sha256: Mapped[str] = mapped_column(String(64), default="", server_default="")
    """A photo of it in the shop's folder; empty where there is none."""

    photo_small_sha256: Mapped[str] = mapped_column(String(64), default="", server_default="")
    archived_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    """Since when no new test is offered it."""

    @property
    def sizes(self) -> str:
        """Its sizes in words, as "bore 86 mm, length 110 mm"; empty where none is recorded."""
        words = (
            gettext("bore {size}", size=_pretty(self.bore)) if self.bore else "",
            gettext("length {size}", size=_pretty(self.length)) if self.length else "",
            gettext("radius {size}", size=_pretty(self.radius)) if self.radius else "",
        )
        return ", ".join(filter(None, words))

    @property
    def stated(self) -> str:
        """Text by which a flow test names it, the same in every language."""
        sizes = (f"{name} {size}" for name in SIZES if (size := getattr(self, name)) is not None)
        return ", ".join([self.name, *sizes])


def _pretty(size: Quantity) -> str:
    return pretty_text(size.text)
