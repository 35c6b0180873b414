"""One box over everything."""

from __future__ import annotations

from itertools import groupby

from flask import Blueprint, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopflow.services.search import search
from shopflow.services.search.search import Hit
from shopflow.texts import lazy
from shopflow.web.db import db
from shopflow.web.rights import may

blueprint = Blueprint("search", __name__)

HEADINGS = {
    "certificate": lazy("Certificates"),
    "quote": lazy("Quotes"),
    "invoice": lazy("Invoices and credit notes"),
    "job": lazy("Jobs"),
    "head": lazy("Heads"),
    "wait": lazy("Waiting"),
    "customer": lazy("Customers"),
    "engine type": lazy("Engine types"),
    "message": lazy("Messages"),
}


@blueprint.get("/search")
def index() -> ResponseReturnValue:
    """Show the records that the text may mean, by kind."""
    text = request.args.get("q", "").strip()
    hits = [hit for hit in search.everything(db(), text) if _may_see(hit)]
    groups = [
        (HEADINGS[kind], [(hit, address(hit)) for hit in some])
        for kind, some in groupby(hits, key=lambda hit: hit.kind)
    ]
    return render_template("search/index.html", text=text, groups=groups, count=len(hits))


def _may_see(hit: Hit) -> bool:
    """True where the user may see hits of this kind."""
    return hit.kind != "message" or may("outbox.message")


def address(hit: Hit) -> str:
    """The page of a thing found."""
    match hit.kind:
        case "certificate":
            number, revision = hit.key.rsplit("/", 1)
            return url_for("certificates.certificate", number=number, revision=int(revision))
        case "quote":
            number, revision = hit.key.rsplit("/", 1)
            return url_for("papers.quote", number=number, revision=int(revision))
        case "invoice":
            return url_for("invoices.invoice", number=hit.key)
        case "wait":
            return url_for("jobs.visit", tag=hit.key)
        case "message":
            return url_for("outbox.message", mail_id=int(hit.key))
        case "job":
            return url_for("jobs.job", number=hit.key)
        case "head":
            return url_for("heads.head", head_id=hit.key)
        case "customer":
            return url_for("customers.customer", customer_id=hit.key)
        case _:
            return url_for("engine_types.engine", engine_type_id=hit.key)
