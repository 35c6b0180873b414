"""Tokens for programs: the list, making and revoking."""

from __future__ import annotations

from flask import Blueprint, flash, make_response, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from shopflow.services.accounts import api_tokens
from shopflow.services.bench import benches
from shopflow.texts import gettext
from shopflow.web.accounts.api_tokens.forms import SCOPES, TokenForm
from shopflow.web.auth import actor
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page

blueprint = Blueprint("api_tokens", __name__, url_prefix="/api-tokens")


@blueprint.get("")
def index() -> ResponseReturnValue:
    """Every token, and whether it is still good."""
    return render_template(
        "api_tokens/index.html", tokens=api_tokens.list_all(db()), now=actor().at, scopes=SCOPES
    )


@blueprint.route("/new", methods=["GET", "POST"])
def make() -> ResponseReturnValue:
    """Make a token, and show its secret this once."""
    form = TokenForm.offering(benches.list_all(db()))
    if form.validate_on_submit():
        with faults_shown(form):
            token, secret = api_tokens.make(db(), actor(), form.values)
            # Not a redirect: the secret is in no record and no cookie, only on this page.
            response = make_response(
                render_template("api_tokens/made.html", token=token, secret=secret)
            )
            response.headers["Cache-Control"] = "no-store"
            response.content_location = url_for("api_tokens.index")
            return response
    return form_page("api_tokens/new.html", form)


@blueprint.post("/<int:token_id>/revoke")
def revoke(token_id: int) -> ResponseReturnValue:
    """Shut a token for good."""
    token = api_tokens.get(db(), token_id)
    api_tokens.revoke(db(), actor(), token)
    flash(gettext("The token of {token} is revoked. It no longer works.", token=token.name))
    return redirect(url_for("api_tokens.index"))
