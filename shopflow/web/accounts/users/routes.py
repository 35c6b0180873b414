"""The accounts of the people who work in the shop; the owner's to keep."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from shopflow.models import User
from shopflow.services import audit_log
from shopflow.services.accounts import login_sessions, login_throttle, users
from shopflow.texts import gettext
from shopflow.web.accounts.users.forms import NewPersonForm, PersonForm, ResetForm
from shopflow.web.auth import actor, current_person, enter
from shopflow.web.db import db, rollback
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.history.lines import of_record

blueprint = Blueprint("users", __name__, url_prefix="/people")


@blueprint.get("")
def index() -> ResponseReturnValue:
    """Everyone with an account."""
    return render_template("users/index.html", list_all=users.list_all(db()))


@blueprint.route("/new", methods=["GET", "POST"])
def create() -> ResponseReturnValue:
    """Open an account for someone."""
    form = NewPersonForm()
    if form.validate_on_submit():
        with faults_shown(form):
            user = users.create(db(), actor(), **form.values, before_hashing=rollback)
            flash(gettext("{user} can sign in as {login}.", user=user.name, login=user.login))
            return redirect(url_for("users.index"))
    return form_page("users/new.html", form)


@blueprint.route("/<int:person_id>", methods=["GET", "POST"])
def person(person_id: int) -> ResponseReturnValue:
    """One account: its name, role, and whether it is open."""
    account = users.get(db(), person_id)
    form = PersonForm(obj=account)
    if form.validate_on_submit():
        with faults_shown(form, account):
            users.change(db(), actor(), account, form.values)
            flash(gettext("{account}'s account was saved.", account=account.name))
            return redirect(url_for("users.index"))
    return _account_page(form, account, ResetForm(formdata=None))


@blueprint.post("/<int:person_id>/password")
def password(person_id: int) -> ResponseReturnValue:
    """Give someone a new password, which signs them out everywhere."""
    account = users.get(db(), person_id)
    reset = ResetForm()
    if reset.validate_on_submit():
        with faults_shown(reset):
            users.change_password(db(), actor(), account, reset.password.data, rollback)
            if account is current_person():
                enter(account)
            flash(
                gettext(
                    "{account} has a new password, and is signed out everywhere.",
                    account=account.name,
                )
            )
            return redirect(url_for("users.index"))
    return _account_page(PersonForm(formdata=None, obj=account), account, reset)


@blueprint.post("/<int:person_id>/sign-out-everywhere")
def sign_out_everywhere(person_id: int) -> ResponseReturnValue:
    """End every open sign-in of someone."""
    account = users.get(db(), person_id)
    login_sessions.end_all(db(), actor(), account)
    flash(gettext("{account} is signed out everywhere.", account=account.name))
    return redirect(url_for("users.index"))


def _account_page(form: PersonForm, account: User, reset: ResetForm) -> ResponseReturnValue:
    page = render_template(
        "users/person.html",
        form=form,
        account=account,
        reset=reset,
        attempts=login_throttle.recent(db(), account.login),
        log=of_record(audit_log.of_record(db(), account)),
    )
    return page, 422 if form.errors or reset.errors else 200
