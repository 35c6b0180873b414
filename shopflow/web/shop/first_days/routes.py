"""The checklist of the first days: shown, put away and shown again."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from shopflow.services.counter import practice
from shopflow.services.shop import first_days
from shopflow.services.shop.settings import get_shop
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.db import db
from shopflow.web.shop.first_days.tasks import checklist
from shopflow.web.undo import flash_undoable

blueprint = Blueprint("first_days", __name__, url_prefix="/first-days")


@blueprint.get("")
def index() -> ResponseReturnValue:
    """Show the checklist, put away or not."""
    return render_template(
        "first_days/index.html", tasks=checklist(db()), practice=practice.find(db())
    )


@blueprint.post("/put-away")
def put_away() -> ResponseReturnValue:
    """Take the checklist off the floor."""
    first_days.put_away(db(), actor(), get_shop(db()), away=True)
    flash_undoable(
        gettext("The checklist is hidden. It stays in the menu, under Set-up."),
        "first_days.show",
    )
    return redirect(url_for("floor.index"))


@blueprint.post("/show")
def show() -> ResponseReturnValue:
    """Put the checklist back on the floor."""
    first_days.put_away(db(), actor(), get_shop(db()), away=False)
    flash(gettext("The checklist is on the floor again."))
    return redirect(url_for("floor.index"))
