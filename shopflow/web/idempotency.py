"""Each form that creates something is saved once, however often it is sent.

A form carries a one-time key (`hidden` and `post_button` in parts/forms.html). The key is recorded
in the transaction that saves the form, with the address the answer leads to. A repeat leads to the
same address; of two posts at the same moment, the one that loses against the unique constraint is
rolled back and answered with the result of the other. A form that failed records nothing.
"""

from __future__ import annotations

import hashlib
import os
import secrets
from dataclasses import dataclass

from flask import Flask, Response, flash, g, redirect, render_template, request
from flask.typing import ResponseReturnValue
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm.exc import StaleDataError
from werkzeug.datastructures import FileStorage

from shopflow.models import IdempotencyKey
from shopflow.services import idempotency
from shopflow.texts import lazy
from shopflow.web.auth import actor, current_person
from shopflow.web.db import db, only_reads, rollback
from shopflow.web.errors import way_again
from shopflow.web.offline.answers import from_queue

FIELD = "idempotency_key"
SENT_TWICE = lazy("You sent this form twice. It was saved once.")
NOT_CONTENT = ("csrf_token", FIELD)


@dataclass(frozen=True, slots=True)
class Submission:
    """One post of a form, as its repeat would look."""

    person_id: int
    key_sha256: str
    content_sha256: str

    @property
    def earlier(self) -> IdempotencyKey | None:
        """The record of the same form sent before."""
        return idempotency.find(db(), self.person_id, self.key_sha256)


def init_app(app: Flask) -> None:
    """Answer repeats before their view runs; record a key before its transaction is committed.

    Comes after `db` and `rights`: functions after a request run in the reverse order.
    """
    app.before_request(_answer_repeat)
    app.after_request(_record)
    app.add_template_global(idempotency_key)
    app.add_template_global(new_key)


def idempotency_key() -> str:
    """The key of a form on the page: the one it was sent with, or a new one."""
    return request.form.get(FIELD) or new_key()


def new_key() -> str:
    """A key that no other form has."""
    return secrets.token_urlsafe(16)


def _answer_repeat() -> ResponseReturnValue | None:
    submission = _submission()
    if submission is None:
        return None
    earlier = submission.earlier
    if earlier is None:
        g.submission = submission
        return None
    if earlier.content_sha256 == submission.content_sha256:
        return _first_result(earlier)
    typed = [item for item in request.form.items(multi=True) if item[0] != FIELD]
    page = render_template(
        "errors/sent_before.html",
        saved_at=earlier.address,
        again=way_again(),
        address=request.full_path.rstrip("?"),
        typed=typed,
        key=new_key(),
    )
    return page, 409


def _record(response: Response) -> Response:
    submission: Submission | None = g.pop("submission", None)
    if submission is None or response.status_code >= 500:
        return response
    address = response.location or response.headers.get("Content-Location")
    if response.status_code >= 400:
        # The first of two may have been saved meanwhile, which is why this one was refused.
        return _result_of_other(submission) or response
    if not address:
        # A page of the form itself: nothing was saved.
        return response
    try:
        if _recorded(submission, address):
            return response
    except (IntegrityError, StaleDataError):
        result = _result_of_other(submission)
        if result is None:
            raise
        return result
    return _result_of_other(submission) or response


def _recorded(submission: Submission, address: str) -> bool:
    now = actor().at
    idempotency.prune(db(), now)
    return idempotency.record(
        db(),
        submission.person_id,
        submission.key_sha256,
        submission.content_sha256,
        address,
        now,
    )


def _result_of_other(submission: Submission) -> Response | None:
    """Roll back; the answer of the post that was saved instead, if there is one."""
    rollback()
    earlier = submission.earlier
    return None if earlier is None else _first_result(earlier)


def _first_result(earlier: IdempotencyKey) -> Response:
    if not from_queue():
        flash(str(SENT_TWICE))
    return redirect(earlier.address)  # type: ignore[return-value]


def _submission() -> Submission | None:
    """The post, where it is of someone signed in and carries a key."""
    if only_reads() or request.endpoint is None or request.blueprint == "api":
        # A program has its own key: `web.api.writing`.
        return None
    key, person = request.form.get(FIELD), current_person()
    if not key or person is None:
        return None
    named = hashlib.sha256(f"{request.full_path}\n{key}".encode("utf-8", "surrogatepass"))
    return Submission(person.id, named.hexdigest(), _content_sha256())


def _content_sha256() -> str:
    """SHA-256 of what was typed, and of the names and sizes of files."""
    content = hashlib.sha256()
    pairs = [item for item in request.form.items(multi=True) if item[0] not in NOT_CONTENT]
    files = [
        (name, f"{file.filename} {_size(file)}") for name, file in request.files.items(multi=True)
    ]
    for pair in [*pairs, *files]:
        content.update(repr(pair).encode("utf-8", "surrogatepass"))
    return content.hexdigest()


def _size(file: FileStorage) -> int:
    size = file.stream.seek(0, os.SEEK_END)
    file.stream.seek(0)
    return size
