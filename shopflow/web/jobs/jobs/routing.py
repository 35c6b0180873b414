"""Steps on a head's page: the current step, its measurements, and who is clocked on to it."""

from __future__ import annotations

from typing import Any

from shopflow.documents.cautions import DEFERRAL, texts
from shopflow.models import Job, TimeSpent, Visit
from shopflow.services.actor import Actor
from shopflow.services.billing import approvals
from shopflow.services.measuring import limit_checks
from shopflow.services.routing import time_tracking
from shopflow.services.shop.built_in_kinds import asked_by
from shopflow.web.db import db
from shopflow.web.routing.operations.forms import SignOffForm


def running_on(job: Job) -> list[TimeSpent]:
    """Periods of work on a job that have not ended."""
    return [stretch for visit in job.heads for step in visit.operations for stretch in step.running]


def routing_of(visit: Visit, by: Actor) -> dict[str, Any]:
    """Variables of the template."""
    step = visit.next_operation
    figures = asked_by(db(), [step] if step else [])
    open_ones = [row for row in visit.operations if row.is_open]
    forbidden = approvals.forbidden(db(), visit.job, open_ones)
    stop = limit_checks.stopping(visit.operations)
    return {
        "step": step,
        "figures": figures,
        "asked": limit_checks.asked_for(step, figures) if step else [],
        "sign_off": SignOffForm.of(step, by.at, figures) if step else None,
        "cautions": texts(step.kind.cautions) if step else [],
        "deferral": DEFERRAL,
        "forbidden": forbidden,
        "extras": approvals.extras(db(), visit.job, open_ones),
        "stop": stop,
        "asks_customer": limit_checks.asks_customer(visit.operations),
        "stopping": limit_checks.undecided(stop) if stop else [],
        "mine": time_tracking.of_person(db(), by) if step else None,
        "spent": {
            row.id: time_tracking.minutes(row, by.at) for row in visit.operations if row.stretches
        },
        "overnight": time_tracking.left_open(
            db(), [stretch for row in visit.operations for stretch in row.running], by.at
        ),
    }
