"""Looking past jobs up by engine type, casting or customer."""

from __future__ import annotations

from flask import Blueprint, render_template, request
from flask.typing import ResponseReturnValue

from shopflow.services.search import past_jobs
from shopflow.web.db import db

blueprint = Blueprint("past_jobs", __name__)


@blueprint.get("/look-up")
def index() -> ResponseReturnValue:
    """Past jobs that what is typed may mean, newest first, with what came of them."""
    text = request.args.get("q", "").strip()
    answer = past_jobs.look_up(db(), text)
    return render_template("past_jobs/index.html", text=text, answer=answer)
