"""One box over everything."""

from __future__ import annotations

from itertools import groupby

from flask import Blueprint, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopflow.services import search
from shopflow.services.search import Hit
from shopflow.web.db import db

blueprint = Blueprint("search", __name__)

HEADINGS = {
    "certificate": "Certificates",
    "job": "Jobs",
    "head": "Heads",
    "customer": "Customers",
    "engine type": "Engine types",
}


@blueprint.get("/search")
def index() -> ResponseReturnValue:
    """What the text may mean, by kind."""
    text = request.args.get("q", "").strip()
    hits = search.everything(db(), text)
    groups = [
        (HEADINGS[kind], [(hit, address(hit)) for hit in some])
        for kind, some in groupby(hits, key=lambda hit: hit.kind)
    ]
    return render_template("search/index.html", text=text, groups=groups, count=len(hits))


def address(hit: Hit) -> str:
    """The page of a thing found."""
    match hit.kind:
        case "certificate":
            number, revision = hit.key.rsplit("/", 1)
            return url_for("certificates.certificate", number=number, revision=int(revision))
        case "job":
            return url_for("jobs.job", number=hit.key)
        case "head":
            return url_for("heads.head", head_id=hit.key)
        case "customer":
            return url_for("customers.customer", customer_id=hit.key)
        case _:
            return url_for("engines.engine", engine_type_id=hit.key)
