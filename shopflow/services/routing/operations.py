"""Operations: planning a head's routing, doing the steps and signing them off."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.errors import FieldError, NotFoundError, RuleError, ValidationError
from shopflow.models import (
    JobState,
    Operation,
    OperationKind,
    OperationState,
    Routing,
    RoutingStep,
    Visit,
)
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.bench import sessions
from shopflow.services.billing import approvals, packages, price_list
from shopflow.services.forecasting import kept_forecasts
from shopflow.services.measuring import limit_checks
from shopflow.services.routing import step_sequence, time_tracking
from shopflow.services.shop import built_in_kinds
from shopflow.texts import gettext

SPECIFICATION: fields.Specification = {
    "instructions": fields.words(),
    "customer_text": fields.text(most=2000),
    "planned_minutes": fields.count(required=True),
    "price": fields.price(),
    "notes": fields.words(),
}
BEFORE_APPROVAL = (JobState.BOOKED_IN, JobState.QUOTED)
SIGN_OFF: fields.Specification = {
    "actual_minutes": fields.count(),
    "notes": fields.words(),
    "not_measured_because": fields.text(most=2000),
}


def get(db: Session, operation_id: int) -> Operation:
    """The step with this key. Raises NotFoundError."""
    operation = db.get(Operation, operation_id)
    if operation is None:
        raise NotFoundError(gettext("this step does not exist"))
    return operation


def of_head(visit: Visit, key: str) -> Operation | None:
    """A head's step by its key as an address has it; None where that is empty.

    Raises NotFoundError.
    """
    if not key:
        return None
    steps = [step for step in visit.operations if str(step.id) == key]
    if not steps:
        raise NotFoundError(gettext("that head has this step does not exist"))
    return steps[0]


def kind_by_code(db: Session, code: str) -> OperationKind:
    """The kind of operation with this code. Raises ValidationError at `kind`."""
    kind = db.scalar(select(OperationKind).where(OperationKind.code == code))
    if kind is None:
        raise ValidationError(
            [FieldError("kind", gettext("unknown step type '{code}'", code=code))]
        )
    return kind


def add(
    db: Session,
    by: Actor,
    visit: Visit,
    kind_id: int,
    values: Mapping[str, Any],
    *,
    is_extra: bool = False,
) -> Operation:
    """Add a step at the end of a head's steps; extra work goes before the final tests and the
    assembly.

    Extra work (`is_extra`) is work that the customer has yet to approve.

    Raises ValidationError, RuleError.
    """
    kind = db.get(OperationKind, kind_id)
    if kind is None:
        raise ValidationError([FieldError("kind_id", gettext("choose a step type"))])
    must_be_open(visit)
    operation = Operation(
        kind=kind,
        position=0,
        # Before the approval nothing is extra: it is all still to be asked for.
        found=is_extra and visit.job.approved_at is not None,
        **with_usual(kind, values, price_list.of_step(db, kind, visit)),
    )
    index = step_sequence.position_of(kind, visit.operations) if is_extra else len(visit.operations)
    insert_step(visit, operation, index)
    verb = "found to be needed" if is_extra else "planned"
    audit_log.record(db, by, operation, verb, job=visit.job, note=f"{kind.name}, {visit.tag}")
    return operation


def add_routing(db: Session, by: Actor, visit: Visit, routing: Routing) -> list[Operation]:
    """Add every step of a saved routing, in order, and its parts; as a package where it has a price
    of its own. Raises RuleError."""
    must_be_open(visit)
    package = packages.begin(db, by, visit, routing)
    steps = add_steps(db, by, visit, routing.steps)
    if package is not None:
        packages.include(package, steps)
    packages.add_parts(db, by, visit, routing, package)
    return steps


def add_like(db: Session, by: Actor, visit: Visit, past: Visit) -> list[Operation]:
    """Add what another head went through, in order, but what was skipped. Raises RuleError."""
    return add_steps(db, by, visit, steps_to_copy(past))


def steps_to_copy(past: Visit) -> list[Operation]:
    """Steps of a head that another may be planned by: neither skipped, declined nor repeats."""
    return [step for step in past.operations if step.counts and not step.again_because]


def add_steps(
    db: Session, by: Actor, visit: Visit, steps: Sequence[RoutingStep | Operation]
) -> list[Operation]:
    """Add steps like these at the end of a head's steps, in order. Raises RuleError."""
    return [
        add(
            db,
            by,
            visit,
            step.kind.id,
            {
                "instructions": step.instructions,
                "customer_text": step.customer_text,
                "planned_minutes": step.planned_minutes,
                "price": step.price,
            },
        )
        for step in steps
    ]


def change(db: Session, by: Actor, operation: Operation, values: Mapping[str, Any]) -> Operation:
    """Change a step's instructions, planned minutes, price or notes. Raises ValidationError."""
    audit_log.change(
        db, by, operation, fields.read(SPECIFICATION, values), job=operation.job_head.job
    )
    return operation


def start(db: Session, by: Actor, operation: Operation) -> Operation:
    """Take a step in hand; the person's time runs on it, and the job goes to work.

    Raises RuleError where the step is done or nobody is named, where it cuts metal that is neither
    approved nor released, or where a figure outside its limits stops the head's routing.
    """
    _take_in_hand(db, by, operation)
    time_tracking.begin(db, by, operation)
    return operation


def take_up(db: Session, by: Actor, operation: Operation) -> Operation:
    """Go on with a step in hand, alone or beside someone who is at it.

    Raises RuleError where it is not in progress, or may not be worked on.
    """
    must_be_open(operation.job_head)
    if operation.state is not OperationState.STARTED:
        raise RuleError(
            gettext("this step is {state}: it is not in progress", state=operation.state)
        )
    _may_go_on(operation)
    time_tracking.begin(db, by, operation)
    return operation


def pause(db: Session, by: Actor, operation: Operation) -> Operation:
    """Stop the person's time on a step. Raises RuleError where it does not run."""
    own = [stretch for stretch in operation.running if stretch.person_id == by.person_id]
    if not own:
        raise RuleError(gettext("your time does not run on this step"))
    time_tracking.end(db, by, own[0])
    return operation


def sign_off(db: Session, by: Actor, operation: Operation, values: Mapping[str, Any]) -> Operation:
    """Sign a step off as done; without `actual_minutes` they are the time that ran on it.

    Raises ValidationError, at `not_measured_because` where measurements it asks for are missing
    without a reason; RuleError as `start`, where a result of its own has not been decided on, or
    where the result of its test is missing.
    """
    must_be_open(operation.job_head)
    if operation.state is OperationState.PLANNED:
        _take_in_hand(db, by, operation)
    if operation.state is not OperationState.STARTED:
        raise RuleError(gettext("this step is {state} already", state=operation.state))
    if by.person is None:
        raise RuleError(gettext("a sign-off needs a person"))
    _must_have_results(operation)
    offered = {"actual_minutes": time_tracking.minutes(operation, by.at) or None}
    clean = fields.read(SIGN_OFF, {**offered, **values})
    missing = limit_checks.missing(operation, built_in_kinds.asked_by(db, [operation]))
    if not missing:
        clean["not_measured_because"] = ""
    elif not clean.get("not_measured_because"):
        raise ValidationError([FieldError("not_measured_because", left_out(missing))])
    time_tracking.end_all(db, by, operation)
    clean |= {
        "state": OperationState.DONE,
        "signed_off_at": by.at,
        "signed_off_by_id": by.person_id,
    }
    job = operation.job_head.job
    if missing:
        note = gettext(
            "not measured: {missing}; {reason}",
            missing=", ".join(missing),
            reason=clean["not_measured_because"],
        )
        audit_log.record(db, by, operation, "asked for more than was measured", job=job, note=note)
    audit_log.change(db, by, operation, clean, job=job, verb="signed off")
    _renew_cases(db, operation)
    return operation


def left_out(missing: Sequence[str]) -> str:
    """Ask for the measurements of a step that are missing."""
    return gettext("Measure {missing}, or enter why you did not", missing=", ".join(missing))


def _must_have_results(operation: Operation) -> None:
    """Refuse a sign-off while a result waits for a decision, or the step's test has no result."""
    stopped = limit_checks.undecided(operation)
    if stopped:
        results = limit_checks.in_words(stopped)
        raise RuleError(
            gettext(
                "{results}; decide how to continue before you sign this step off", results=results
            )
        )
    kind = operation.kind.tests_by
    if kind is not None and not operation.integrity_tests:
        raise RuleError(
            gettext(
                "“{kind}” has no result; record the {kind2} before you sign it off",
                kind=operation.kind.name,
                kind2=kind,
            )
        )


def skip(db: Session, by: Actor, operation: Operation, reason: str) -> Operation:
    """Leave a step out, saying why. Raises ValidationError, RuleError."""
    must_be_open(operation.job_head)
    if not operation.is_open:
        raise RuleError(gettext("this step is {state} already", state=operation.state))
    clean = fields.read(
        {"skip_reason": fields.text(required=True, most=2000)}, {"skip_reason": reason}
    )
    clean["state"] = OperationState.SKIPPED
    time_tracking.end_all(db, by, operation)
    audit_log.change(db, by, operation, clean, job=operation.job_head.job, verb="skipped")
    return operation


def reopen(db: Session, by: Actor, operation: Operation) -> Operation:
    """Take a done or skipped step up again. Raises RuleError."""
    must_be_open(operation.job_head)
    if operation.is_open:
        raise RuleError(gettext("this step is open already"))
    values = {
        "state": OperationState.PLANNED,
        "signed_off_at": None,
        "signed_off_by_id": None,
        "started_at": None,
        "started_by_id": None,
        "skip_reason": "",
        "not_measured_because": "",
    }
    audit_log.change(db, by, operation, values, job=operation.job_head.job, verb="reopened")
    _renew_cases(db, operation)
    return operation


def with_usual(
    kind: OperationKind, values: Mapping[str, Any], price: Decimal | None
) -> dict[str, Any]:
    """A new step's fields, the kind's usual minutes and this price where none are given."""
    entered = {name: value for name, value in values.items() if value not in (None, "")}
    usual = {"planned_minutes": kind.usual_minutes, "price": price}
    return fields.read(SPECIFICATION, {**usual, **entered})


def insert_step(visit: Visit, operation: Operation, index: int) -> None:
    """Insert a new step at this index of a head's steps, and number the rest after it."""
    following = list(visit.operations)
    following.insert(index, operation)
    visit.operations.append(operation)
    number_steps(visit, following)


def number_steps(visit: Visit, following: Sequence[Operation]) -> None:
    """Number a head's steps in this order."""
    for position, step in enumerate(following, start=1):
        step.position = position
    # Assigning to its places would make the list drop those displaced as orphans.
    visit.operations.sort(key=lambda step: step.position)


def _take_in_hand(db: Session, by: Actor, operation: Operation) -> None:
    must_be_open(operation.job_head)
    if by.person is None:
        raise RuleError(gettext("nobody is signed in: sign in to take this step"))
    if operation.state is not OperationState.PLANNED:
        raise RuleError(gettext("this step is {state} already", state=operation.state))
    forbidden = approvals.forbids(db, operation)
    if forbidden:
        raise RuleError(forbidden)
    _may_go_on(operation)
    if operation.kind.cuts_metal:
        kept_forecasts.keep(db, by, operation)
    job = operation.job_head.job
    values = {
        "state": OperationState.STARTED,
        "started_at": by.at,
        "started_by_id": by.person_id,
    }
    audit_log.change(db, by, operation, values, job=job, verb="started")
    _job_at_work(db, by, operation)


def _renew_cases(db: Session, operation: Operation) -> None:
    """Credit the gains between a head's tests to what is done now."""
    if operation.kind.cuts_metal:
        sessions.renew_cases(db, operation.job_head)


def _may_go_on(operation: Operation) -> None:
    """Refuse a step while its head waits for the customer, or another step of it for a decision."""
    steps = operation.job_head.operations
    if limit_checks.asks_customer(steps):
        raise RuleError(gettext("the customer is asked; record the answer before work goes on"))
    stop = limit_checks.stopping(steps)
    if stop is not None and stop is not operation:
        words = limit_checks.in_words(limit_checks.undecided(stop))
        raise RuleError(
            gettext(
                "{kind}: {words}; decide first how to continue", kind=stop.kind.name, words=words
            )
        )


def must_be_open(visit: Visit) -> None:
    """Refuse work on a head whose job is closed. Raises RuleError."""
    if not visit.job.is_open:
        raise RuleError(
            gettext("job {job} is {state}", job=visit.job.number, state=visit.job.state)
        )


def _job_at_work(db: Session, by: Actor, operation: Operation) -> None:
    job = operation.job_head.job
    released = operation.release is not None and job.state in BEFORE_APPROVAL
    if job.state is JobState.APPROVED or released:
        audit_log.change(db, by, job, {"state": JobState.IN_WORK}, job=job, verb="moved")
