"""Signing in and out, and one's own account."""

from __future__ import annotations

import re

from flask import Blueprint, current_app, flash, redirect, request, url_for
from flask.typing import ResponseReturnValue
from flask_wtf.csrf import generate_csrf

from shopflow.models import User
from shopflow.services.accounts import login_sessions, users
from shopflow.services.accounts.users import SignInError
from shopflow.texts import gettext
from shopflow.web import navigation
from shopflow.web.accounts.account.forms import ConfirmForm, PasswordForm, SignInForm
from shopflow.web.auth import (
    actor,
    confirm,
    current_person,
    current_sign_in,
    enter,
    leave,
    network_address,
    signed_in,
)
from shopflow.web.db import db, rollback
from shopflow.web.filters import sentence
from shopflow.web.forms import Form, faults_shown, form_page

blueprint = Blueprint("account", __name__)

_OWN_PAGE = re.compile(r"/(?![/\\])[^\s\\\x00-\x1f]*")
"""A path on this server: browsers read // and backslashes as the start of another's address."""


@blueprint.route("/sign-in", methods=["GET", "POST"])
def sign_in() -> ResponseReturnValue:
    """Ask who it is, and go on to the page they wanted."""
    if current_person() is not None:
        return redirect(_wanted_page())
    if not users.any_person(db()):
        return redirect(url_for("set_up.set_up"))
    form = SignInForm()
    if form.validate_on_submit():
        try:
            person = _by_password(form.login.data, form.password.data)
        except SignInError as error:
            form.form_errors.append(str(error))
        else:
            enter(person)
            return redirect(_wanted_page())
    return form_page("account/sign_in.html", form)


@blueprint.get("/sign-in/standing")
def standing() -> ResponseReturnValue:
    """Name of the user now logged in and the token of their forms, for a page left open."""
    person = current_person()
    who = person.name if person is not None else ""
    key = str(person.id) if person is not None else ""
    content = {"who": who, "person": key, "csrf_token": generate_csrf()}
    return content, {"Cache-Control": "no-store"}


@blueprint.post("/sign-in/again")
def sign_in_again() -> ResponseReturnValue:
    """Sign in from a page left open, which stays as it is."""
    form = SignInForm()
    if not form.validate_on_submit():
        return {"fault": gettext("Enter your user name and password.")}, 422
    try:
        person = _by_password(form.login.data, form.password.data)
    except SignInError as error:
        return {"fault": f"{sentence(str(error))}."}, 422
    enter(person)
    return {"who": person.name}


@blueprint.post("/sign-out")
def sign_out() -> ResponseReturnValue:
    """End this sign-in."""
    leave()
    answer = redirect(url_for("account.sign_in"))
    # What a browser kept of the pages goes too; what was typed and is not saved yet stays.
    answer.headers["Clear-Site-Data"] = '"cache"'
    return answer


@blueprint.route("/confirm", methods=["GET", "POST"], endpoint="confirm")
def confirm_password() -> ResponseReturnValue:
    """Ask for the password again before something that decides who may get in."""
    form = ConfirmForm()
    if form.validate_on_submit():
        try:
            _by_password(signed_in().login, form.password.data)
        except SignInError as error:
            form.password.errors = [*form.password.errors, str(error)]
        else:
            confirm(signed_in())
            return redirect(_wanted_page())
    return form_page("account/confirm.html", form)


@blueprint.route("/me", methods=["GET", "POST"])
def me() -> ResponseReturnValue:
    """One's own account, and a new password for it."""
    person = signed_in()
    form = PasswordForm()
    if form.validate_on_submit():
        try:
            _by_password(person.login, form.current.data)
        except SignInError as error:
            form.current.errors = [*form.current.errors, str(error)]
        else:
            with faults_shown(form):
                users.change_password(db(), actor(), person, form.password.data, rollback)
                enter(person)
                flash(gettext("Password changed. You are signed out on every other device."))
                return redirect(url_for("account.me"))
    open_ones = login_sessions.of(db(), person, actor().at)
    return form_page(
        "account/me.html", form, token=Form(), sign_ins=open_ones, this_one=current_sign_in()
    )


@blueprint.post("/me/sign-ins/<int:sign_in_id>/end")
def end_sign_in(sign_in_id: int) -> ResponseReturnValue:
    """End one sign-in of one's own, as on a tablet left behind."""
    login_sessions.end(login_sessions.get(db(), signed_in(), sign_in_id), actor().at)
    flash(gettext("That device is signed out."))
    return redirect(url_for("account.me"))


@blueprint.post("/me/sign-out-everywhere")
def sign_out_everywhere() -> ResponseReturnValue:
    """End every sign-in of one's own, this one too."""
    person = signed_in()
    login_sessions.end_all(db(), actor(), person)
    return sign_out()


@blueprint.post("/me/search-key")
def search_key() -> ResponseReturnValue:
    """Turn the / key that goes to the search box on or off for oneself."""
    person = signed_in()
    users.choose_search_key(db(), actor(), person, on=not person.search_key)
    flash(gettext("The / key is on.") if person.search_key else gettext("The / key is off."))
    return redirect(url_for("account.me"))


def _by_password(login: str, password: str) -> User:
    """The person; a failed try counts, though the request as a whole is refused."""
    try:
        return users.sign_in(db(), login, password, actor().at, network_address(), rollback)
    except SignInError:
        db().commit()
        current_app.logger.warning("refused a password from %s", network_address())
        raise


def _wanted_page() -> str:
    """The page asked for before signing in, where it is one of ours, or the user's first page."""
    wanted = request.args.get("next", "")
    return (
        wanted if _OWN_PAGE.fullmatch(wanted) else url_for(navigation.first_page(signed_in().role))
    )
