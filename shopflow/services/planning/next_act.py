"""The next act on a head and on a job: verb, target, who must do it, and whose button it is.

Plain facts go in and plain data comes out; `act_facts` reads the facts off the records, and pages
and the floor show the same acts.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from shopflow.models import CLOSED_STATES, JobState, Role
from shopflow.texts import gettext_noop


class Party(StrEnum):
    """Party that has to act next."""

    COUNTER = gettext_noop("counter")
    CUSTOMER = gettext_noop("customer")
    WORKSHOP = gettext_noop("workshop")
    SUPPLIER = gettext_noop("supplier")
    """Of parts, or of work done outside."""


class Verb(StrEnum):
    """Every act that takes a head or job on, the most urgent of several heads' first."""

    RECORD_ANSWER = "record answer"
    RECORD_DECISION = "record decision"
    ADD_PLAN = "add work plan"
    WRITE_QUOTE = "write quote"
    REVISE_QUOTE = "revise quote"
    RECORD_APPROVAL = "record approval"
    RECORD_TEST = "record test result"
    MEASURE = "open sheet"
    SIGN_OFF = "sign off step"
    START = "start step"
    MARK_READY = "mark ready"
    ISSUE_INVOICE = "issue invoice"
    RECORD_PAYMENT = "record payment"
    HAND_OVER = "hand over"
    END_HOLD = "end hold"


STAFF = frozenset({Role.OWNER, Role.MACHINIST, Role.COUNTER})
OFFICE = frozenset({Role.OWNER, Role.COUNTER})
WORKSHOP = frozenset({Role.OWNER, Role.MACHINIST})

ROLES: dict[Verb, frozenset[Role]] = {
    Verb.RECORD_ANSWER: STAFF,
    Verb.RECORD_DECISION: WORKSHOP,
    Verb.ADD_PLAN: STAFF,
    Verb.WRITE_QUOTE: OFFICE,
    Verb.REVISE_QUOTE: OFFICE,
    Verb.RECORD_APPROVAL: OFFICE,
    Verb.RECORD_TEST: WORKSHOP,
    Verb.MEASURE: WORKSHOP,
    Verb.SIGN_OFF: WORKSHOP,
    Verb.START: WORKSHOP,
    Verb.MARK_READY: OFFICE,
    Verb.ISSUE_INVOICE: OFFICE,
    Verb.RECORD_PAYMENT: OFFICE,
    Verb.HAND_OVER: STAFF,
    Verb.END_HOLD: STAFF,
}
"""Roles that may do each act; tests/web holds it against the permissions of the pages."""

_URGENCY = {verb: rank for rank, verb in enumerate(Verb)}


@dataclass(frozen=True, slots=True)
class Act:
    """One act: what to do, to which record, and who has to act for it to happen."""

    verb: Verb
    party: Party
    job: str
    """Number of the job."""

    tag: str
    """Label of the head."""

    key: int | None = None
    """Key of the step or hold, where the act is one of those."""

    subject: str = ""
    """Name of the step, or what is waited for."""

    roles: frozenset[Role] = frozenset()
    version: int | None = None
    """Version of the job that the act was offered for, where it changes the job's state."""

    def is_open_to(self, role: Role) -> bool:
        """True where a user of this role may do it."""
        return role in self.roles


@dataclass(frozen=True, slots=True)
class StepFacts:
    """Facts of a head's first open step."""

    key: int
    name: str
    is_started: bool = False
    needs_approval: bool = False
    """True where it cuts metal that the customer has not approved and nobody released."""

    is_quoted: bool = False
    """True where the job's last quote asks the customer for it."""

    lacks_test: bool = False
    """True where its kind needs a pressure, leak or crack test that has no result."""

    lacks_measurements: bool = False


@dataclass(frozen=True, slots=True)
class HoldFacts:
    """The oldest hold of a head that has not ended."""

    key: int
    what: str
    party: Party


@dataclass(frozen=True, slots=True)
class HeadFacts:
    """Facts of a head in the shop that decide what is next."""

    job: str
    tag: str
    state: JobState
    version: int = 1
    """Version of the job's record."""

    is_practice: bool = False
    """True of a practice job, on which nothing with a number of its own is issued."""

    is_approved: bool = False
    has_plan: bool = False
    step: StepFacts | None = None
    hold: HoldFacts | None = None
    stop: tuple[int, str] | None = None
    """Key and name of the step whose results stop the work."""

    asks_customer: bool = False
    has_extra_to_quote: bool = False
    has_open_quote: bool = False
    """True where the job, approved before, has a later quote without an answer."""

    job_is_done: bool = False
    """True where no head of the job has an open step."""

    to_invoice: bool = False
    """True where approved work is on no invoice yet."""

    owes: bool = False
    """True where invoices exceed payments and credit notes."""


def of_head(facts: HeadFacts) -> tuple[Act, ...]:
    """Acts that a head is ready for, the next one first; none where nothing is left to do."""
    return tuple(_acts(facts))


def for_role(acts: Iterable[Act], role: Role) -> Act | None:
    """The first of some acts that a user of this role may do."""
    return next((act for act in acts if act.is_open_to(role)), None)


def of_job(heads: Iterable[Sequence[Act]], role: Role | None = None) -> Act | None:
    """The next act on a job: of each head's first, open to the role where one is given, the most
    urgent."""
    firsts = [
        act
        for acts in heads
        if (act := for_role(acts, role) if role else next(iter(acts), None)) is not None
    ]
    return min(firsts, key=lambda act: _URGENCY[act.verb], default=None)


def _acts(facts: HeadFacts) -> Iterator[Act]:
    if facts.state in CLOSED_STATES:
        yield from _money(facts) if facts.state is not JobState.CANCELLED else ()
    elif facts.state is JobState.READY:
        yield from _leaving(facts)
    elif facts.state is JobState.DEVELOPMENT:
        yield from _own_work(facts)
    else:
        yield from _in_work(facts)


def _own_work(facts: HeadFacts) -> Iterator[Act]:
    """Steps of the shop's own head: nobody has to approve them, and it leaves for nobody."""
    if facts.stop:
        yield _act(facts, Verb.RECORD_DECISION, Party.WORKSHOP, *facts.stop)
    elif facts.step is not None:
        yield from _step(replace(facts, step=replace(facts.step, needs_approval=False)))


def _act(
    facts: HeadFacts, verb: Verb, party: Party, key: int | None = None, subject: str = ""
) -> Act:
    return Act(verb, party, facts.job, facts.tag, key, subject, ROLES[verb])


def _money(facts: HeadFacts) -> Iterator[Act]:
    if facts.is_practice:
        return
    if facts.to_invoice:
        yield _act(facts, Verb.ISSUE_INVOICE, Party.COUNTER)
    if facts.owes:
        yield _act(facts, Verb.RECORD_PAYMENT, Party.CUSTOMER)


def _leaving(facts: HeadFacts) -> Iterator[Act]:
    yield from _money(facts)
    # Only the office may let a job go unpaid.
    is_owed = (facts.to_invoice or facts.owes) and not facts.is_practice
    roles = OFFICE if is_owed else STAFF
    yield Act(Verb.HAND_OVER, Party.CUSTOMER, facts.job, facts.tag, roles=roles)


def _in_work(facts: HeadFacts) -> Iterator[Act]:
    if facts.asks_customer and facts.stop:
        yield _act(facts, Verb.RECORD_ANSWER, Party.CUSTOMER, *facts.stop)
        return
    if facts.stop:
        yield _act(facts, Verb.RECORD_DECISION, Party.WORKSHOP, *facts.stop)
        return
    if facts.hold:
        yield _act(facts, Verb.END_HOLD, facts.hold.party, facts.hold.key, facts.hold.what)
    if not facts.has_plan:
        yield _act(facts, Verb.ADD_PLAN, Party.COUNTER)
    else:
        yield from _agreeing(facts)
        yield from _step(facts)
    if facts.has_open_quote and not (facts.step and facts.step.needs_approval):
        yield _act(facts, Verb.RECORD_APPROVAL, Party.CUSTOMER)
    if facts.is_approved and facts.job_is_done:
        act = _act(facts, Verb.MARK_READY, Party.COUNTER)
        yield replace(act, version=facts.version)


def _agreeing(facts: HeadFacts) -> Iterator[Act]:
    """Acts by which the customer comes to approve the work, before any of it can go on."""
    step = facts.step
    approve = _act(facts, Verb.RECORD_APPROVAL, Party.CUSTOMER)
    revise = _act(facts, Verb.REVISE_QUOTE, Party.COUNTER)
    if facts.state is JobState.QUOTED:
        yield from (approve, revise)
    elif not facts.is_approved:
        if not facts.is_practice:
            yield _act(facts, Verb.WRITE_QUOTE, Party.COUNTER)
        yield _act(facts, Verb.RECORD_APPROVAL, Party.COUNTER)
    elif step and step.needs_approval and step.is_quoted:
        yield from (replace(approve, subject=step.name), revise)
    elif facts.has_extra_to_quote or (step and step.needs_approval):
        yield revise


def _step(facts: HeadFacts) -> Iterator[Act]:
    step = facts.step
    if step is None:
        return
    if not step.is_started:
        if not step.needs_approval:
            yield _act(facts, Verb.START, Party.WORKSHOP, step.key, step.name)
        return
    if step.lacks_test:
        yield _act(facts, Verb.RECORD_TEST, Party.WORKSHOP, step.key, step.name)
    elif step.lacks_measurements:
        yield _act(facts, Verb.MEASURE, Party.WORKSHOP, step.key, step.name)
    yield _act(facts, Verb.SIGN_OFF, Party.WORKSHOP, step.key, step.name)
