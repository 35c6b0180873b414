"""The next act on a head and a job: over every state and role, and as read off the records."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest

from shopflow import issuing
from shopflow.models import JobState, Role
from shopflow.services.billing import quotes
from shopflow.services.jobs import jobs, stations
from shopflow.services.planning import act_facts, next_act
from shopflow.services.planning.next_act import HeadFacts, HoldFacts, Party, StepFacts, Verb
from shopflow.services.routing import holds, operations
from tests.factories import BY, create_job, create_operation
from tests.optional import present

BLANK = HeadFacts("2026-0001", "2026-0001-A", JobState.BOOKED_IN)
STEP = StepFacts(7, "Cut seats")
PLANNED = replace(BLANK, has_plan=True, step=STEP)
IN_WORK = replace(PLANNED, state=JobState.IN_WORK, is_approved=True)
DONE = replace(IN_WORK, step=None, job_is_done=True)
STARTED = replace(STEP, is_started=True)
UNAPPROVED = replace(STEP, needs_approval=True)
READY = replace(DONE, state=JobState.READY)
LEFT = replace(DONE, state=JobState.COLLECTED)
DEVELOPMENT = replace(BLANK, state=JobState.DEVELOPMENT)
HOLD = HoldFacts(3, "8 valves", Party.SUPPLIER)

CASES = {
    "nothing planned": (BLANK, Verb.ADD_PLAN, Verb.ADD_PLAN),
    "booked in, first step cuts no metal": (PLANNED, Verb.WRITE_QUOTE, Verb.START),
    "booked in, first step cuts metal": (
        replace(PLANNED, step=UNAPPROVED), Verb.WRITE_QUOTE, None,
    ),
    "quoted": (
        replace(PLANNED, state=JobState.QUOTED, step=UNAPPROVED), Verb.RECORD_APPROVAL, None,
    ),
    "approved": (replace(IN_WORK, state=JobState.APPROVED), Verb.START, Verb.START),
    "in work": (IN_WORK, Verb.START, Verb.START),
    "in hand": (replace(IN_WORK, step=STARTED), Verb.SIGN_OFF, Verb.SIGN_OFF),
    "in hand, measurements missing": (
        replace(IN_WORK, step=replace(STARTED, lacks_measurements=True)),
        Verb.MEASURE, Verb.MEASURE,
    ),
    "in hand, no test result": (
        replace(IN_WORK, step=replace(STARTED, lacks_test=True, lacks_measurements=True)),
        Verb.RECORD_TEST, Verb.RECORD_TEST,
    ),
    "a result to decide on": (
        replace(IN_WORK, stop=(7, "Cut seats")), Verb.RECORD_DECISION, Verb.RECORD_DECISION,
    ),
    "the customer is asked": (
        replace(IN_WORK, stop=(7, "Cut seats"), asks_customer=True),
        Verb.RECORD_ANSWER, Verb.RECORD_ANSWER,
    ),
    "on hold": (replace(IN_WORK, hold=HOLD), Verb.END_HOLD, Verb.END_HOLD),
    "extra work to quote": (
        replace(IN_WORK, has_extra_to_quote=True), Verb.REVISE_QUOTE, Verb.START,
    ),
    "extra work next, not quoted": (
        replace(IN_WORK, step=UNAPPROVED), Verb.REVISE_QUOTE, None,
    ),
    "extra work next, quoted": (
        replace(IN_WORK, step=replace(UNAPPROVED, is_quoted=True), has_open_quote=True),
        Verb.RECORD_APPROVAL, None,
    ),
    "a later quote is out": (replace(IN_WORK, has_open_quote=True), Verb.START, Verb.START),
    "all done": (DONE, Verb.MARK_READY, None),
    "this head done, another not": (replace(DONE, job_is_done=False), None, None),
    "ready": (READY, Verb.HAND_OVER, Verb.HAND_OVER),
    "ready, to invoice": (replace(READY, to_invoice=True), Verb.ISSUE_INVOICE, None),
    "ready, to be paid": (replace(READY, owes=True), Verb.RECORD_PAYMENT, None),
    "collected, paid": (LEFT, None, None),
    "collected, to be paid": (replace(LEFT, owes=True), Verb.RECORD_PAYMENT, None),
    "shipped, to invoice": (
        replace(LEFT, state=JobState.SHIPPED, to_invoice=True), Verb.ISSUE_INVOICE, None,
    ),
    "cancelled": (replace(LEFT, state=JobState.CANCELLED, owes=True), None, None),
    "development, nothing planned": (DEVELOPMENT, None, None),
    "development, a step that cuts metal": (
        replace(DEVELOPMENT, has_plan=True, step=UNAPPROVED), Verb.START, Verb.START,
    ),
    "development, a result to decide on": (
        replace(DEVELOPMENT, has_plan=True, stop=(7, "Cut seats")),
        Verb.RECORD_DECISION, Verb.RECORD_DECISION,
    ),
}  # fmt: skip
"""Facts, the next act, and the machinist's; by common practice of a shop, no source."""


@pytest.mark.parametrize(("facts", "following", "machinists"), CASES.values(), ids=CASES)
def test_each_state_has_its_next_act_and_each_role_its_own(facts, following, machinists):
    acts = next_act.of_head(facts)

    def verb(role):
        act = next_act.for_role(acts, role)
        return act.verb if act else None

    assert (acts[0].verb if acts else None) is following
    assert verb(Role.OWNER) is following
    assert verb(Role.MACHINIST) is machinists
    assert verb(Role.READER) is None
    if following in (Verb.START, Verb.MEASURE, Verb.RECORD_TEST, Verb.SIGN_OFF):
        assert verb(Role.COUNTER) in (None, Verb.RECORD_APPROVAL)
    elif following is not Verb.RECORD_DECISION:
        assert verb(Role.COUNTER) is following


def test_every_state_is_among_the_cases():
    assert {facts.state for facts, *_ in CASES.values()} == set(JobState)


@pytest.mark.parametrize("state", JobState)
@pytest.mark.parametrize("role", Role)
def test_no_facts_leave_a_role_with_an_act_it_may_not_do(state, role):
    for plan, asks, extra, done, to_invoice, owes in itertools.product((False, True), repeat=6):
        for step in (None, STEP, STARTED, UNAPPROVED):
            facts = replace(
                BLANK,
                state=state,
                step=step,
                has_plan=plan,
                asks_customer=asks,
                has_extra_to_quote=extra,
                job_is_done=done,
                to_invoice=to_invoice,
                owes=owes,
            )
            act = next_act.for_role(next_act.of_head(facts), role)
            assert act is None or role in next_act.ROLES[act.verb]


def test_a_job_follows_its_most_urgent_head():
    heads = [next_act.of_head(facts) for facts in (IN_WORK, replace(IN_WORK, hold=HOLD))]
    assert present(next_act.of_job(heads)).verb is Verb.START
    stopped = replace(IN_WORK, stop=(7, "Cut seats"), asks_customer=True)
    heads.append(next_act.of_head(stopped))
    assert present(next_act.of_job(heads)).verb is Verb.RECORD_ANSWER
    assert next_act.of_job([next_act.of_head(LEFT)]) is None


def following(db, job):
    """The next act on a job, as read off its records, and its roles in one word."""
    db.flush()
    facts = act_facts.of_job(db, job)
    act = next_act.of_job([next_act.of_head(row) for row in facts.values()])
    return act.verb if act else None


def test_the_next_act_is_read_off_the_records_of_a_job_all_its_life(db, machinist):
    job = create_job(db)
    assert following(db, job) is Verb.ADD_PLAN
    step = create_operation(db, job.heads[0], "seat-cut", price="60")
    assert following(db, job) is Verb.WRITE_QUOTE
    quote = issuing.give_quote(db, BY, job, {})
    assert following(db, job) is Verb.RECORD_APPROVAL
    quotes.approve(db, BY, quote, "Ada", "telephone")
    assert following(db, job) is Verb.START
    operations.start(db, machinist, step)
    assert following(db, job) is Verb.MEASURE
    wait = holds.begin(
        db, machinist, job.heads[0], {"wait_for": "parts", "what": "valves", "since": "2026-03-01"}
    )
    assert following(db, job) is Verb.END_HOLD
    holds.end(db, machinist, wait)
    operations.sign_off(db, machinist, step, {"not_measured_because": "gauges are out"})
    assert following(db, job) is Verb.MARK_READY
    extra = operations.add(
        db,
        BY,
        job.heads[0],
        operations.kind_by_code(db, "guide").id,
        {"price": "10"},
        is_extra=True,
    )
    assert following(db, job) is Verb.REVISE_QUOTE
    issuing.give_quote(db, BY, job, {})
    assert following(db, job) is Verb.RECORD_APPROVAL
    operations.skip(db, BY, extra, "not wanted")
    jobs.move(db, BY, job, JobState.READY)
    assert following(db, job) is Verb.ISSUE_INVOICE
    assert [station.progress for station in stations.of_job(job)] == [
        *["done"] * 4,
        "here",
    ]
