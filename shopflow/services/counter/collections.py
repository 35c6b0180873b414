"""Collection: giving a job's heads, parts and papers back, and closing the job."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy.orm import Session

from shopflow.errors import FieldError, NotFoundError, RuleError, ValidationError
from shopflow.models import Collection, HandedOver, Job, JobState, Role
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.billing import balances
from shopflow.services.billing.balances import Balance
from shopflow.services.counter import customer_view
from shopflow.services.jobs import jobs
from shopflow.texts import gettext, lazy

SPECIFICATION: fields.Specification = {
    "how": fields.one_of(HandedOver),
    "handed_on": fields.day(),
    "handed_to": fields.text(required=True),
    "carrier": fields.text(),
    "parcels": fields.count(least=1),
    "tracking_number": fields.text(),
    "packed_by": fields.text(),
    "remarks": fields.text(most=2000),
    "release_reason": fields.text(most=2000),
    "untouched_because": fields.text(most=2000),
}
WHEN_SHIPPED = {
    "carrier": lazy("enter the carrier"),
    "parcels": lazy("enter the number of parcels"),
    "packed_by": lazy("enter who packed it"),
}
RELEASERS = (Role.OWNER, Role.COUNTER)
"""Roles that may release a job with a balance to pay."""

WORD = fields.text()


@dataclass(frozen=True, slots=True)
class PartBack:
    """One kind of part at collection: how many go back, and a word where some do not."""

    part_id: int
    returned: int
    word: str = ""


def the_collection(job: Job) -> Collection:
    """Collection of a job. Raises NotFoundError."""
    if job.collection is None:
        raise NotFoundError(gettext("job {job} has not been handed over", job=job.number))
    return job.collection


def papers_for(job: Job) -> list[str]:
    """Titles of the papers that could go along with a job."""
    certificates = [
        gettext("Flow certificate {title}", title=row.title)
        for row in customer_view.certificates(job)
        if row.withdrawn_at is None
    ]
    notes = [
        gettext("Hand-off sheet of {head}", head=visit.tag)
        for visit in job.heads
        if visit.hand_off is not None
    ]
    return [*certificates, *notes]


def hand_over(
    db: Session,
    by: Actor,
    job: Job,
    values: Mapping[str, Any],
    parts: Sequence[PartBack],
    papers: Sequence[str],
) -> Collection:
    """Hand a ready job over and close it.

    Raises RuleError where the job is not ready or somebody without the right lets it go unpaid;
    ValidationError at the fields, keyed "parts-0-word" for the first part and so on, at
    `untouched_because` as `jobs.move`.
    """
    if job.state is not JobState.READY:
        raise RuleError(
            gettext(
                "job {job} is {state}: mark it ready before you hand it over",
                job=job.number,
                state=job.state,
            )
        )
    clean = fields.require(SPECIFICATION, values, "how", "handed_on", "handed_to")
    untouched_because = clean.pop("untouched_because", "")
    balance = balances.of_job(db, job)
    left = balance.left
    faults = [*_faults(clean, balance), *_part_faults(job, parts)]
    unknown = set(papers) - set(papers_for(job))
    if unknown:
        faults.append(
            FieldError(
                "papers",
                gettext(
                    "{unknown} is not a document of this job", unknown=", ".join(sorted(unknown))
                ),
            )
        )
    if faults:
        raise ValidationError(faults)
    if balance.expected > 0 and (by.person is None or by.person.role not in RELEASERS):
        raise RuleError(gettext("the job is not paid: ask the owner or the counter to release it"))
    row = Collection(
        job=job,
        parts=_frozen(job, parts),
        papers=list(papers),
        balance=left,
        recorded_at=by.at,
        recorded_by_id=by.person_id,
        **_of_its_kind(clean),
    )
    db.add(row)
    audit_log.record(db, by, row, row.how.value, job=job, note=_in_log(row))
    jobs.move(db, by, job, JobState(row.how.value), untouched_because=untouched_because)
    return row


def _faults(clean: Mapping[str, Any], balance: Balance) -> list[FieldError]:
    faults = []
    if clean["handed_on"] is None:
        faults.append(FieldError("handed_on", gettext("required: enter a value")))
    if clean["how"] is HandedOver.SHIPPED:
        faults += [
            FieldError(name, str(message))
            for name, message in WHEN_SHIPPED.items()
            if not clean.get(name)
        ]
    if balance.expected > 0 and not clean.get("release_reason"):
        faults.append(FieldError("release_reason", _not_settled(balance)))
    return faults


def _not_settled(balance: Balance) -> str:
    """Reason why a job cannot be handed over yet."""
    if balance.left > 0:
        return gettext(
            "{left:.2f} is left to pay: record the payment first, or enter a reason",
            left=balance.left,
        )
    return gettext(
        "work for {total:.2f} is not approved: record the approval first, or enter a reason",
        total=balance.unapproved.total,
    )


def _part_faults(job: Job, parts: Sequence[PartBack]) -> list[FieldError]:
    """Faults of the parts: one short or over needs an explanation, and none may be missing."""
    by_part = {back.part_id: back for back in parts}
    faults = []
    for index, (_, part) in enumerate(received(job)):
        back = by_part.get(part.id)
        if back is None:
            faults.append(
                FieldError(f"parts-{index}-returned", gettext("enter the number that goes back"))
            )
        elif back.returned != part.count and not back.word.strip():
            message = (
                gettext("fewer than received: enter what happened to it")
                if back.returned < part.count
                else gettext("more than received: enter what happened to it")
            )
            faults.append(FieldError(f"parts-{index}-word", message))
    return faults


def received(job: Job) -> list[tuple[str, Any]]:
    """Every part that came in with a job, each with its head's tag."""
    return [(visit.tag, part) for visit in job.heads for part in visit.parts]


def _frozen(job: Job, parts: Sequence[PartBack]) -> list[dict[str, Any]]:
    by_part = {back.part_id: back for back in parts}
    return [
        {
            "tag": tag,
            "name": part.name,
            "received": part.count,
            "returned": by_part[part.id].returned,
            "word": WORD(by_part[part.id].word),
        }
        for tag, part in received(job)
    ]


def _of_its_kind(clean: Mapping[str, Any]) -> dict[str, Any]:
    """Clear the fields of a shipment where nothing is shipped."""
    if clean["how"] is HandedOver.SHIPPED:
        return dict(clean)
    return {**clean, "carrier": "", "parcels": None, "tracking_number": "", "packed_by": ""}


def _in_log(row: Collection) -> str:
    texts = [gettext("to {person}", person=row.handed_to)]
    if row.how is not HandedOver.COLLECTED:
        shipment = f"{row.carrier} {row.tracking_number}".rstrip()
        texts.append(gettext("by {shipment}", shipment=shipment))
    texts += [
        gettext("{tag}: {returned} of {received} {name}, {word}", **part)
        for part in row.parts
        if part["returned"] != part["received"]
    ]
    if row.balance > 0:
        texts.append(
            gettext(
                "{balance} left to pay: {reason}", balance=row.balance, reason=row.release_reason
            )
        )
    return "; ".join(texts)
