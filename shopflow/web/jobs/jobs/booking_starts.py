"""Forms of booking in as a request asks for them: empty, like a past job, sent, or reshaped."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy.orm import Session

from shopflow.files import FileStore
from shopflow.services.counter import job_templates
from shopflow.services.counter.booking import MOST_HEADS
from shopflow.services.jobs import jobs
from shopflow.web.jobs.jobs.booking import LIKE, BookInForm
from shopflow.web.jobs.jobs.on_file import offer_customers, offer_engine_types, offer_heads


def starting(db: Session, arguments: Mapping[str, str]) -> BookInForm:
    """An empty form, or one for the customer, engine type or head named in the address.

    With `like`, the number of a past job, it begins as that job did. Raises NotFoundError.
    """
    data: dict[str, Any] = {
        "customer_id": arguments.get("customer", ""),
        "engine_type_id": arguments.get("engine", ""),
        "heads": [{"head_id": arguments.get("head", "")}],
    }
    number = arguments.get("like", "").replace("\x00", "")
    if number:
        past = job_templates.like(db, number)
        data["engine_type_id"] = str(past.engine_type_id)
        data["routing_id"] = f"{LIKE}{past.tag}"
        data["job"] = past.job
    returns = arguments.get("returns", "").replace("\x00", "")
    if returns:
        past_job = jobs.get(db, returns)
        data["returns"] = past_job.number
        data["customer_id"] = str(past_job.customer_id)
        data["engine_type_id"] = str(past_job.heads[0].head.engine_type_id)
        data["heads"] = [{"head_id": str(visit.head_id)} for visit in past_job.heads]
    form = BookInForm(data=data)
    form.step.data = _first_open(data)
    return form


def _first_open(data: Mapping[str, Any]) -> str:
    """The first step that the address leaves open."""
    if not data["customer_id"]:
        return "customer"
    heads = [head["head_id"] for head in data["heads"] if head["head_id"]]
    return "heads" if data["engine_type_id"] or heads else "engine"


def sent(store: FileStore) -> BookInForm:
    """The form as it was sent, its photos kept, changed in shape where that was asked for."""
    form = BookInForm()
    form.keep_photos(store)
    return reshaped(form)


def form_with_offers(db: Session, what: str, text: str) -> BookInForm:
    """A form that offers the customers or engine types that this text may mean."""
    form = BookInForm(formdata=None, data={f"{what}_find": text.replace("\x00", "")})
    {"customer": offer_customers, "engine": offer_engine_types}[what](db, form)
    return form


def form_with_records(db: Session, arguments: Mapping[str, str]) -> BookInForm:
    """A form whose last head, at this index, offers the records that match its numbers."""
    index = arguments.get("place", "0")
    count = min(int(index), MOST_HEADS - 1) + 1 if index.isdecimal() and len(index) < 4 else 1
    numbers = {
        name: arguments.get(name, "").replace("\x00", "") for name in ("casting_number", "serial")
    }
    form = BookInForm(formdata=None, data={"heads": [{}] * (count - 1) + [numbers]})
    offer_heads(db, form.heads[-1].form)
    return form


def reshaped(form: BookInForm) -> BookInForm:
    """The form with a head added or removed, where that was requested; else unchanged."""
    typed = form.data
    for part, values in zip(form.heads, typed["heads"], strict=True):
        values["photos"] = part.form.photos.form.carried
    remaining = [part for part in typed["heads"] if not part.pop("remove")]
    if form.add_head.data and len(remaining) < MOST_HEADS:
        remaining.append({})
    if len(remaining) == len(form.heads):
        return form
    return BookInForm(formdata=None, data={**typed, "heads": remaining, "look": True})
