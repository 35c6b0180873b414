"""My work: the user's heads in hand, and those they can take next."""

from __future__ import annotations

from flask import Blueprint, render_template
from flask.typing import ResponseReturnValue

from shopflow.documents.cautions import in_brief
from shopflow.services.bench import test_drafts
from shopflow.services.planning import floor, my_work
from shopflow.services.shop import opening_hours
from shopflow.web import acts
from shopflow.web.auth import signed_in
from shopflow.web.context import minute_of_day, today
from shopflow.web.db import db

blueprint = Blueprint("my_work", __name__)


@blueprint.get("/my-work")
def index() -> ResponseReturnValue:
    """Heads in hand first, then those whose next act is the user's."""
    hours = opening_hours.open_hours(opening_hours.the_hours(db()))
    rows = floor.rows(db(), hours, today(), minute_of_day())
    work = my_work.of_user(rows, signed_in())
    mine = [*work.in_hand, *work.up_next]
    return render_template(
        "my_work/index.html",
        work=work,
        today=today(),
        following={
            row.head.id: acts.of_head(row.acts, row.head.customer, row.workers) for row in mine
        },
        briefs=my_work.briefs(db(), mine),
        in_brief=in_brief,
        open_tests=test_drafts.all_open(db()),
    )
