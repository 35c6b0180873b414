"""Heads and engine types that a file's rows are of: on record, or to be made with its jobs."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from shopflow.errors import NotFoundError
from shopflow.models import EngineType, HeadPlan, Job, Visit
from shopflow.services.imports.heads import HeadKey
from shopflow.services.imports.parties import Party
from shopflow.services.registry import head_layouts
from shopflow.texts import gettext


@dataclass(frozen=True)
class HeadShape:
    """Shape of a head, on record or to be: all that its places are told from."""

    engine_type: EngineType
    cylinders: str = ""

    @property
    def plan(self) -> HeadPlan | None:
        """Its places; none while the layout of its engine type is not recorded."""
        return self.engine_type.plan(self.cylinders)


@dataclass(eq=False)
class FileJob:
    """A job that rows name: on record, or a past one that the file makes."""

    number: str
    first_row: int
    row: Job | None
    customer: Party | None
    by_position: dict[int, FileHead] = field(default_factory=dict)
    by_casting: dict[HeadKey, FileHead] = field(default_factory=dict)

    @property
    def heads(self) -> list[FileHead]:
        """The heads that the file names, each once, in their order on the job."""
        heads_here = [*self.by_position.values(), *self.by_casting.values()]
        return sorted(dict.fromkeys(heads_here), key=lambda head: head.position or 0)


@dataclass(eq=False)
class FileHead:
    """A head on a job that rows are of, and the days of its rows."""

    job: FileJob
    position: int | None
    engine: Party
    casting: dict[str, Any]
    row: Visit | None = None
    days: list[datetime] = field(default_factory=list)
    is_told: bool = False
    """True where a row has announced that it will be made."""

    @property
    def on_record(self) -> Visit | None:
        """Its visit, where that is on record."""
        return self.row

    @property
    def record(self) -> Visit:
        """Its visit, once all is made."""
        if self.row is None:
            raise NotFoundError(gettext("{head} is not on record yet", head=self.title))
        return self.row

    @property
    def shape(self) -> HeadShape:
        """Its places, before it is on record."""
        if self.row is not None:
            return HeadShape(self.row.head.engine_type, self.row.head.cylinders)
        return HeadShape(engine_to_be(self.engine))

    @property
    def title(self) -> str:
        """The head in words, as "head 1 of job 1842"."""
        if self.row is not None:
            return gettext("head {tag}", tag=self.row.tag)
        return gettext("head {head} of job {job}", head=self.position or 1, job=self.job.number)

    def making(self, words: str, at: datetime | None = None) -> str:
        """Effect of a row of it, after what the first such row makes; notes the row's day."""
        is_first = self.row is None and not self.is_told
        self.is_told = True
        self.days += [at] if at is not None else []
        if not is_first:
            return words
        if self.job.row is None and self.job.customer is not None:
            return gettext(
                "makes {head}, {engine}, of {customer}; {words}",
                head=self.title,
                engine=self.engine.announced(),
                customer=self.job.customer.announced(),
                words=words,
            )
        return gettext(
            "makes {head}, {engine}; {words}",
            head=self.title,
            engine=self.engine.announced(),
            words=words,
        )


@dataclass(eq=False)
class FileEngine:
    """An engine type whose usual springs or seats rows are of."""

    engine: Party
    is_told: bool = False

    @property
    def shape(self) -> HeadShape:
        """Places of its heads."""
        return HeadShape(engine_to_be(self.engine))

    @property
    def on_record(self) -> EngineType | None:
        """The engine type, where it is on record."""
        row: EngineType | None = self.engine.row
        return row

    @property
    def record(self) -> EngineType:
        """The engine type, once all is made."""
        row: EngineType = self.engine.row
        return row

    @property
    def title(self) -> str:
        """Its name."""
        return self.engine.name

    def making(self, words: str, at: datetime | None = None) -> str:
        """Effect of a row of it, after what the first such row makes."""
        is_first = self.engine.is_new and not self.engine.is_told
        if not is_first:
            return words
        return gettext("makes {engine}; {words}", engine=self.engine.announced(), words=words)


Owner = FileHead | FileEngine


def engine_to_be(engine: Party) -> EngineType:
    """An engine type on record, or as it will be recorded."""
    if not engine.is_new:
        row: EngineType = engine.row
        return row
    cylinders = int(engine.get("cylinders"))
    valves = int(engine.get("valves_per_cylinder") or 2)
    return EngineType(
        builder=engine.get("builder"),
        family=engine.get("family"),
        cylinders=cylinders,
        valves_per_cylinder=valves,
        **head_layouts.certain(cylinders, valves),
    )
