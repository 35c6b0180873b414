"""Signing in and out, and one's own account."""

from __future__ import annotations

import re

from flask import Blueprint, flash, redirect, request, session, url_for
from flask.typing import ResponseReturnValue
from flask_login import logout_user

from shopflow.services import people
from shopflow.services.people import SignInError
from shopflow.web.account.forms import PasswordForm, SignInForm
from shopflow.web.auth import actor, current_person, enter, signed_in
from shopflow.web.db import db
from shopflow.web.forms import Form, faults_shown, form_page

blueprint = Blueprint("account", __name__)

_OWN_PAGE = re.compile(r"/(?![/\\])[^\s\\\x00-\x1f]*")
"""A path on this server: browsers read // and backslashes as the start of another's address."""


@blueprint.route("/sign-in", methods=["GET", "POST"])
def sign_in() -> ResponseReturnValue:
    """Ask who it is, and go on to the page they wanted."""
    if current_person() is not None:
        return redirect(_wanted_page())
    if not people.any_person(db()):
        return redirect(url_for("set_up.set_up"))
    form = SignInForm()
    if form.validate_on_submit():
        try:
            person = people.sign_in(db(), form.login.data, form.password.data, actor().at)
        except SignInError as error:
            # The failed try counts, though the request as a whole is refused.
            db().commit()
            form.form_errors.append(str(error))
        else:
            enter(person)
            return redirect(_wanted_page())
    return form_page("account/sign_in.html", form)


@blueprint.post("/sign-out")
def sign_out() -> ResponseReturnValue:
    """End this sign-in."""
    logout_user()
    session.clear()
    return redirect(url_for("account.sign_in"))


@blueprint.route("/me", methods=["GET", "POST"])
def me() -> ResponseReturnValue:
    """One's own account, and a new password for it."""
    person = signed_in()
    form = PasswordForm()
    if form.validate_on_submit():
        try:
            people.sign_in(db(), person.login, form.current.data, actor().at)
        except SignInError as error:
            db().commit()
            form.current.errors = [*form.current.errors, str(error)]
        else:
            with faults_shown(form):
                people.change_password(db(), actor(), person, form.password.data)
                enter(person)
                flash("Your password is changed. Every other sign-in of yours has ended.")
                return redirect(url_for("account.me"))
    return form_page("account/me.html", form, token=Form())


@blueprint.post("/me/sign-out-everywhere")
def sign_out_everywhere() -> ResponseReturnValue:
    """End every sign-in of one's own, this one too."""
    person = signed_in()
    people.sign_out_everywhere(db(), actor(), person)
    return sign_out()


@blueprint.post("/me/search-key")
def search_key() -> ResponseReturnValue:
    """Turn the / key that goes to the search box on or off for oneself."""
    person = signed_in()
    people.choose_search_key(db(), actor(), person, on=not person.search_key)
    flash(f"The / key is {'on' if person.search_key else 'off'}.")
    return redirect(url_for("account.me"))


def _wanted_page() -> str:
    """The page asked for before signing in, where it is one of ours."""
    wanted = request.args.get("next", "")
    return wanted if _OWN_PAGE.fullmatch(wanted) else url_for("floor.index")
