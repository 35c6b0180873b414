"""The first start: making the shop and its owner. Open only while there is no account."""

from __future__ import annotations

from flask import Blueprint, redirect, url_for
from flask.typing import ResponseReturnValue

from shopflow.models import Role
from shopflow.services import people, shop
from shopflow.web.auth import actor, enter
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.set_up.forms import SetUpForm

blueprint = Blueprint("set_up", __name__)


@blueprint.route("/set-up", methods=["GET", "POST"])
def set_up() -> ResponseReturnValue:
    """Ask for the shop and its owner, and sign the owner in."""
    if people.any_person(db()):
        return redirect(url_for("account.sign_in"))
    form = SetUpForm()
    if form.validate_on_submit():
        with faults_shown(form):
            if shop.the_shop(db()) is None:
                shop.set_up(db(), actor(), form.shop_values)
            owner = people.create(
                db(),
                actor(),
                form.login.data,
                form.owner_name.data,
                Role.OWNER,
                form.password.data,
            )
            enter(owner)
            return redirect(url_for("floor.index"))
    return form_page("set_up/set_up.html", form)
