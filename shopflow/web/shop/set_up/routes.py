"""The first start: making the shop and its owner. Open only while there is no account."""

from __future__ import annotations

from functools import partial

from flask import Blueprint, current_app, redirect, url_for
from flask.typing import ResponseReturnValue

from shopflow.lost_records import mark_set_up
from shopflow.models import Role
from shopflow.services.accounts import set_up_codes, users, verification_throttle
from shopflow.services.shop import settings
from shopflow.texts import gettext
from shopflow.web.auth import actor, enter, network_address
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.shop.set_up.forms import SetUpForm

blueprint = Blueprint("set_up", __name__)


@blueprint.route("/set-up", methods=["GET", "POST"])
def set_up() -> ResponseReturnValue:
    """Ask for the shop and its owner, and sign the owner in."""
    if users.any_person(db()):
        return redirect(url_for("account.sign_in"))
    form = SetUpForm()
    if form.validate_on_submit() and _code_is_right(form):
        with faults_shown(form):
            if settings.shop_or_none(db()) is None:
                settings.set_up(db(), actor(), form.shop_values)
            owner = users.create(
                db(),
                actor(),
                form.login.data,
                form.owner_name.data,
                Role.OWNER,
                form.password.data,
            )
            set_up_codes.forget(db())
            enter(owner)
            answer = redirect(url_for("floor.index"))
            # Once it is committed and sent.
            answer.call_on_close(partial(mark_set_up, current_app.config["SHOPFLOW"].data))
            return answer
    return form_page("set_up/set_up.html", form)


def _code_is_right(form: SetUpForm) -> bool:
    """Tell whether the code is the one printed; a wrong one counts, and is said at its field."""
    address, now, typed = network_address(), actor().at, form.code.data or ""
    if verification_throttle.too_many(db(), address, now):
        message = gettext("Too many wrong codes from this address. Wait 10 minutes and try again")
    elif set_up_codes.is_right(db(), typed):
        return True
    else:
        verification_throttle.count(db(), address, now)
        db().commit()
        message = gettext(
            "'{typed}' is not the set-up code: copy it from where shopflow was started",
            typed=typed[:40],
        )
    form.code.errors = [message]
    return False
