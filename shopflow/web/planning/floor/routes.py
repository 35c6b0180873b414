"""The floor: every open head, where it stands, late first; the same for a screen on the wall."""

from __future__ import annotations

from flask import Blueprint, make_response, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopflow.models import JobState
from shopflow.services.bench import bench_checks, test_drafts
from shopflow.services.planning import floor
from shopflow.services.planning.next_act import Party
from shopflow.services.shop import opening_hours
from shopflow.web import acts
from shopflow.web.auth import actor
from shopflow.web.context import current_shop, minute_of_day, today
from shopflow.web.db import db
from shopflow.web.planning.floor import filters
from shopflow.web.planning.floor.moves import Standing, by_stand, standing
from shopflow.web.rights import may
from shopflow.web.shop.first_days.tasks import Row, checklist

blueprint = Blueprint("floor", __name__)

ON_THE_WALL = 6
"""Heads a wall screen shows at once, in letters that are read from across the shop."""

TURNS_AFTER = 20
"""Seconds after which the wall screen turns its page."""


@blueprint.get("/")
def index() -> ResponseReturnValue:
    """Every open head, or those that the address asks for."""
    rows = _standings()
    wanted = filters.Wanted.from_query(request.args)
    matching = wanted.of(rows)
    by = "where" if request.args.get("by") == "where" else None
    return render_template(
        "floor/index.html",
        rows=matching,
        groups=by_stand(matching) if by else [("", matching)] if matching else [],
        counts=filters.counts(rows),
        choices=filters.choices(rows),
        standings=filters.STANDINGS,
        moves=[move.value for move in Party],
        total=len(rows),
        to_ask=sum(item.row.questions for item in rows),
        wanted=wanted,
        by=by,
        following={item.row.head.id: acts.of_head(item.row.acts) for item in matching},
        open_tests=test_drafts.all_open(db()),
        tasks=_first_days(),
        concerns=bench_checks.concerns(db(), today()),
    )


@blueprint.get("/floor/wall")
def wall() -> ResponseReturnValue:
    """The floor in large letters, a page at a time: the screen turns its pages by itself."""
    rows = [item for item in _standings() if item.row.head.state is not JobState.READY]
    pages = max(1, -(-len(rows) // ON_THE_WALL))
    number = min(max(request.args.get("page", 1, type=int), 1), pages)
    answer = make_response(
        render_template(
            "floor/wall.html",
            rows=rows[(number - 1) * ON_THE_WALL : number * ON_THE_WALL],
            counts=filters.counts(rows),
            total=len(rows),
            number=number,
            pages=pages,
            now=actor().at,
        )
    )
    following = url_for("floor.wall", page=number % pages + 1)
    answer.headers["Refresh"] = f"{TURNS_AFTER}; url={following}"
    return answer


def _first_days() -> list[Row]:
    """Tasks of the first days, for an owner who has not put them away; none once all is done."""
    shop = current_shop()
    if shop is None or shop.first_days_put_away or not may("first_days.index"):
        return []
    tasks = checklist(db())
    return [] if all(task.is_done for task in tasks) else tasks


def _standings() -> list[Standing]:
    day = today()
    hours = opening_hours.open_hours(opening_hours.the_hours(db()))
    return [standing(row, day) for row in floor.rows(db(), hours, day, minute_of_day())]
