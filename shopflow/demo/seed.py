"""The seed files of the invented shop, told as of this week."""

from __future__ import annotations

import tomllib
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any, TypeVar

from sqlalchemy.orm import Session

from shopflow import camfile
from shopflow.camfile import CamDocument
from shopflow.models import (
    Customer,
    EngineType,
    Head,
    MeasurementKind,
    OperationKind,
    User,
)
from shopflow.services.actor import Actor

Table = dict[str, Any]
When = TypeVar("When", date, datetime)


class Seed:
    """The seed files, and what has been made of them so far by the keys they give it."""

    def __init__(self, db: Session, folder: Path) -> None:
        self.db = db
        self.folder = folder
        self.people: dict[str, User] = {}
        self.customers: dict[str, Customer] = {}
        self.engine_types: dict[str, EngineType] = {}
        self.heads: dict[str, Head] = {}
        self.steps: dict[str, OperationKind] = {}
        self.figures: dict[str, MeasurementKind] = {}
        self.shop_file = self.read("shop.toml")
        # Whole weeks keep the weekdays; the demo shop is always in the middle of its work.
        weeks = (datetime.now(UTC).date() - self.shop_file["as_of"]).days // 7
        self.shift = timedelta(weeks=weeks)

    def read(self, name: str) -> Table:
        """One seed file."""
        return tomllib.loads((self.folder / name).read_text(encoding="utf-8"))

    def cam(self, name: str) -> CamDocument:
        """A cam file among the seeds."""
        return camfile.read(self.folder / "cams" / name)

    def moved(self, when: When) -> When:
        """A date or time of the files, moved to this week's telling."""
        return when + self.shift

    def actor(self, login: str | None, at: datetime) -> Actor:
        """User and time of a change, as the seed file states them."""
        return Actor(self.people[login] if login else None, self.moved(at))
