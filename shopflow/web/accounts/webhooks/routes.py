"""Webhooks: the list, a page of each with its last deliveries, and what the owner may do."""

from __future__ import annotations

from collections.abc import Sequence

from flask import (
    Blueprint,
    Response,
    current_app,
    flash,
    make_response,
    redirect,
    render_template,
    url_for,
)
from flask.typing import ResponseReturnValue

from shopflow.config import Settings
from shopflow.models import Webhook
from shopflow.services.webhooks import events, hooks, queues
from shopflow.texts import gettext
from shopflow.web.accounts.webhooks.forms import WebhookForm
from shopflow.web.auth import actor
from shopflow.web.db import db
from shopflow.web.folder import seal
from shopflow.web.forms import faults_shown, form_page
from shopflow.webhooks import destination

blueprint = Blueprint("webhooks", __name__, url_prefix="/webhooks")


@blueprint.get("")
def index() -> ResponseReturnValue:
    """Every webhook, and its state."""
    return render_template("webhooks/index.html", hooks=hooks.list_all(db()), types=events.TYPES)


@blueprint.route("/new", methods=["GET", "POST"])
def make() -> ResponseReturnValue:
    """Name an address, and show its secret this once."""
    form = WebhookForm().offer()
    if form.validate_on_submit():
        with faults_shown(form):
            hook, secret = hooks.make(db(), actor(), seal(), form.values, _allowed())
            return _secret_shown(hook, secret)
    return form_page("webhooks/new.html", form)


@blueprint.get("/<int:hook_id>")
def webhook(hook_id: int) -> ResponseReturnValue:
    """A webhook with its last deliveries."""
    hook = hooks.get(db(), hook_id)
    return render_template(
        "webhooks/webhook.html",
        hook=hook,
        deliveries=hooks.deliveries(db(), hook),
        types=events.TYPES,
        finished=hooks.FINISHED,
        given_up_after=queues.GIVEN_UP_AFTER,
        now=actor().at,
    )


@blueprint.post("/<int:hook_id>/secret")
def renew_secret(hook_id: int) -> ResponseReturnValue:
    """Make a new secret, and show it this once."""
    hook = hooks.get(db(), hook_id)
    return _secret_shown(hook, hooks.renew_secret(db(), actor(), seal(), hook))


@blueprint.post("/<int:hook_id>/off")
def switch_off(hook_id: int) -> ResponseReturnValue:
    """Post nothing more."""
    hook = hooks.get(db(), hook_id)
    hooks.switch_off(db(), actor(), hook)
    flash(gettext("The webhook is off. What happens from now on is not posted."))
    return redirect(_page(hook))


@blueprint.post("/<int:hook_id>/on")
def switch_on(hook_id: int) -> ResponseReturnValue:
    """Post again."""
    hook = hooks.get(db(), hook_id)
    hooks.switch_on(db(), actor(), hook)
    flash(gettext("The webhook is on."))
    return redirect(_page(hook))


@blueprint.post("/<int:hook_id>/trial")
def send_trial(hook_id: int) -> ResponseReturnValue:
    """Post a message that tells of nothing."""
    hook = hooks.get(db(), hook_id)
    hooks.send_trial(db(), actor(), hook)
    flash(gettext("The trial is posted within seconds. Reload this page to see the answer."))
    return redirect(_page(hook))


@blueprint.post("/<int:hook_id>/deliveries/<int:delivery_id>/repeat")
def repeat(hook_id: int, delivery_id: int) -> ResponseReturnValue:
    """Post a message once more."""
    hook = hooks.get(db(), hook_id)
    hooks.repeat(db(), actor(), hooks.get_delivery(db(), hook, delivery_id))
    flash(gettext("The delivery is repeated within seconds. Reload this page to see the answer."))
    return redirect(_page(hook))


@blueprint.post("/<int:hook_id>/deliveries/<int:delivery_id>/skip")
def skip(hook_id: int, delivery_id: int) -> ResponseReturnValue:
    """Leave a message out that the address does not take."""
    hook = hooks.get(db(), hook_id)
    hooks.skip(db(), actor(), hooks.get_delivery(db(), hook, delivery_id))
    flash(gettext("The delivery is skipped. Those behind it go on."))
    return redirect(_page(hook))


def _allowed() -> Sequence[destination.Network]:
    settings: Settings = current_app.config["SHOPFLOW"]
    return destination.networks(settings.webhook_networks)


def _page(hook: Webhook) -> str:
    return url_for("webhooks.webhook", hook_id=hook.id)


def _secret_shown(hook: Webhook, secret: str) -> Response:
    # Not a redirect: the secret is in no cookie, and in the database sealed, only on this page.
    response = make_response(render_template("webhooks/secret.html", hook=hook, secret=secret))
    response.headers["Cache-Control"] = "no-store"
    response.content_location = _page(hook)
    return response
