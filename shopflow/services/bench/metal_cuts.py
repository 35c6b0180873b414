"""The steps that cut metal between two flow tests of a head: what a difference is owed to."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session, object_session

from shopflow.models import BenchSession, Event, Operation, OperationState, Visit
from shopflow.texts import gettext, gettext_noop, lazy, listed, translated

AS_RECEIVED = gettext_noop("as received")
"""The stage of a head that nothing was done to on this visit yet."""

NONE = lazy("no metal cut between them")


def is_as_received(stage: str) -> bool:
    """True where a stage, or a name that begins with it, is that of a head as received."""
    return stage.startswith((AS_RECEIVED, translated(AS_RECEIVED)))


@dataclass(frozen=True)
class Cuts:
    """All that was cut between two tests, in the shop's own words; a step counts for both sides."""

    names: tuple[str, ...]
    stage: str = ""
    """The later test's own words for it, where no step on record cut metal."""

    kinds: frozenset[int] = field(default=frozenset(), compare=False)
    """The kinds of these steps, by their keys."""

    @property
    def is_none(self) -> bool:
        """True where nothing was cut, so that a difference is no gain of the work."""
        return not self.names and not self.stage

    @property
    def in_words(self) -> str:
        """The steps as one line: several cannot be distinguished by these tests.

        >>> Cuts(("Fit seat inserts", "Cut seats", "Port")).in_words
        'Fit seat inserts, Cut seats and Port (together, not tested apart)'
        """
        if self.stage:
            return gettext("{stage} (as the test states; no step on record)", stage=self.stage)
        if len(self.names) > 1:
            return gettext("{steps} (together, not tested apart)", steps=self.work)
        return self.work

    @property
    def work(self) -> str:
        """The steps alone, however they were tested.

        >>> Cuts(("Cut seats", "Port")).work, Cuts(()).work
        ('Cut seats and Port', 'no metal cut between them')
        """
        return listed(self.names or (self.stage or NONE,))

    @property
    def sentence(self) -> str:
        """Cuts in one sentence, for pages and documents."""
        if self.is_none:
            return gettext(
                "No metal was cut between these tests: a difference is not a gain from the work."
            )
        return gettext("Work between them: {cuts}.", cuts=self.in_words)


@dataclass(frozen=True)
class _SignOff:
    """One sign-off of a step: a step that is reopened and done again has several."""

    step: Operation
    at: datetime | None
    """None for a step that was never signed off."""

    reopened_at: datetime | None = None
    is_first: bool = True

    def stood(self, moment: datetime) -> bool:
        """True where the step was done at a moment."""
        is_over = self.reopened_at is not None and self.reopened_at <= moment
        return self.at is not None and self.at < moment and not is_over


Log = Mapping[int, Sequence[Event]]
"""Every sign-off and reopening of steps, by the step's key."""


def between(first_test: BenchSession, other: BenchSession, log: Log | None = None) -> Cuts:
    """The cuts between two tests of one head, on whatever visits they were made.

    `log` is that of all the head's steps, where it is at hand; without it it is read.
    """
    before, after = sorted(
        (first_test, other), key=lambda row: (*_begun(row.job_head), row.position)
    )
    visits = [visit for visit in after.job_head.head.visits if _is_between(visit, before, after)]
    steps = [step for visit in sorted(visits, key=_begun) for step in visit.operations]
    cut = [
        sign_off.step.kind
        for sign_off in _sign_offs([step for step in steps if step.kind.cuts_metal], log)
        if _precedes(sign_off, after) and not _precedes(sign_off, before)
    ]
    return Cuts(
        tuple(dict.fromkeys(kind.name for kind in cut)),
        "" if cut else _stage(before, after),
        frozenset(kind.id for kind in cut),
    )


def _is_between(visit: Visit, before: BenchSession, after: BenchSession) -> bool:
    return _begun(before.job_head) <= _begun(visit) <= _begun(after.job_head)


def _begun(visit: Visit) -> tuple[datetime, int]:
    return visit.job.booked_in_at, visit.id


def _stage(before: BenchSession, after: BenchSession) -> str:
    """The stage that a later test states where it names no step; empty where that is no cut."""
    stage = after.stage
    is_cut = stage and stage != before.stage and not is_as_received(stage)
    return stage if is_cut and after.after_operation is None else ""


def _sign_offs(steps: Sequence[Operation], log: Log | None) -> Iterator[_SignOff]:
    """Every sign-off of these steps, by the log where a step was reopened."""
    if log is None:
        db = object_session(steps[0]) if steps else None
        log = {} if db is None else log_of(db, steps)
    for step in steps:
        signed: list[datetime] = []
        reopened: list[datetime | None] = []
        for event in log.get(step.id, ()):
            if event.verb == "signed off":
                signed.append(event.at)
                reopened.append(None)
            elif reopened:
                reopened[-1] = event.at
        if step.signed_off_at is not None:
            # Of records brought in the log has the day of the import.
            signed[-1:], reopened[-1:] = [step.signed_off_at], [None]
        for index, (at, until) in enumerate(zip(signed, reopened, strict=True)):
            yield _SignOff(step, at, until, is_first=index == 0)
        if not signed and step.is_open:
            yield _SignOff(step, None)


def log_of(db: Session, steps: Iterable[Operation]) -> Log:
    """The log of these steps, in one query."""
    query = select(Event).where(
        Event.subject == Operation.__tablename__,
        Event.subject_id.in_([step.id for step in steps]),
        Event.verb.in_(("signed off", "reopened")),
    )
    log: dict[int, list[Event]] = {}
    for event in db.scalars(query.order_by(Event.at, Event.id)):
        log.setdefault(event.subject_id, []).append(event)
    return log


def _precedes(sign_off: _SignOff, test: BenchSession) -> bool:
    """True where a step was done when a test was made."""
    visit = sign_off.step.job_head
    if visit is not test.job_head:
        is_done = sign_off.at is not None and sign_off.reopened_at is None
        return is_done and _begun(visit) < _begun(test.job_head)
    return sign_off.stood(_tested_at(test)) or (sign_off.is_first and _follows(test, sign_off.step))


def _tested_at(test: BenchSession) -> datetime:
    """Time of a test; one that states none is as old as the step it followed."""
    if test.measured_at is not None:
        return test.measured_at
    followed = test.after_operation
    if followed is not None:
        return min(followed.signed_off_at or test.entered_at, test.entered_at)
    if is_as_received(test.stage or AS_RECEIVED):
        return test.job_head.job.booked_in_at
    return test.entered_at


def _follows(test: BenchSession, step: Operation) -> bool:
    """True where a test states that it followed a step, even if that was signed off later."""
    followed = test.after_operation
    if followed is None or step is followed:
        return followed is not None
    begun = step.started_at
    # A step signed off without a start has that moment as its start, which tells nothing.
    is_begun_later = begun is not None and begun != step.signed_off_at and begun > test.entered_at
    is_done = step.state is OperationState.DONE
    return is_done and step.position < followed.position and not is_begun_later
