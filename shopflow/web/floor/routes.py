"""The floor: every open head, where it stands, late first."""

from __future__ import annotations

from flask import Blueprint, render_template, request
from flask.typing import ResponseReturnValue

from shopflow.services import benches, jobs
from shopflow.web.context import today
from shopflow.web.db import db
from shopflow.web.floor.moves import Move, by_stand, standing

blueprint = Blueprint("floor", __name__)


@blueprint.get("/")
def index() -> ResponseReturnValue:
    """Every open head, or those whose next move is one party's."""
    day = today()
    rows = [standing(row, day) for row in jobs.floor(db(), day)]
    wanted = request.args.get("move", "")
    counts = {move: sum(item.move is move for item in rows) for move in Move}
    shown = [item for item in rows if not wanted or item.move == wanted]
    by = "where" if request.args.get("by") == "where" else None
    return render_template(
        "floor/index.html",
        rows=shown,
        groups=by_stand(shown) if by else [("", shown)] if shown else [],
        counts=counts,
        total=len(rows),
        wanted=wanted,
        by=by,
        concerns=benches.concerns(db(), day),
    )
