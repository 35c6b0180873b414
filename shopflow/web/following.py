"""The next act on a job or head, for the user signed in."""

from __future__ import annotations

from shopflow.models import Job, Visit
from shopflow.services.planning import act_facts, next_act
from shopflow.web import acts
from shopflow.web.db import db


def following_of(job: Job, visit: Visit | None = None) -> acts.Next:
    """The next act on a job, or on one of its heads."""
    facts = act_facts.of_job(db(), job)
    visits = [visit] if visit is not None else job.heads
    heads = [next_act.of_head(facts[row.id]) for row in visits]
    steps = [step for row in visits if (step := row.next_operation) is not None]
    workers = dict.fromkeys(stretch.person.name for step in steps for stretch in step.running)
    return acts.of_heads(heads, job.customer.name, workers)
