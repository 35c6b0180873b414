"""Bench mode: choose head, port and bench by tapping, then take the test on one screen."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, make_response, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopflow.models import TestDraft, Visit
from shopflow.services.bench import sessions, test_drafts, test_names, testable_heads
from shopflow.services.jobs import jobs
from shopflow.web.bench.bench_mode import scans
from shopflow.web.bench.sessions import start, taking
from shopflow.web.context import today
from shopflow.web.db import db

blueprint = Blueprint("bench_mode", __name__)


@blueprint.get("/bench")
def index() -> ResponseReturnValue:
    """Choose a head by tapping or scanning, or go on with a test left open."""
    label = scans.label_of(request.args.get("label", ""))
    rows = testable_heads.heads(db())
    if any(row.tag == label for row in rows):
        return redirect(url_for("bench_mode.ports", tag=label))
    drafts = test_drafts.all_open(db())
    return render_template(
        "bench_mode/index.html",
        heads=rows,
        label=label,
        drafts=[(row, drafts[row.visit_id]) for row in rows if _has_begun(drafts, row.visit_id)],
        scans_open_bench=scans.opens_bench_mode(),
    )


def _has_begun(drafts: dict[int, TestDraft], visit_id: int) -> bool:
    return visit_id in drafts and bool(drafts[visit_id].reading_count)


@blueprint.post("/bench/scans")
def set_scans() -> ResponseReturnValue:
    """Set whether labels scanned with this device open bench mode."""
    answer = make_response(redirect(url_for("bench_mode.index")))
    return scans.remember(answer, opens=not scans.opens_bench_mode())


@blueprint.get("/bench/<tag>")
def ports(tag: str) -> ResponseReturnValue:
    """Choose the port to test, or continue the test left open."""
    visit = jobs.visit(db(), tag)
    draft = test_drafts.of_head(db(), visit)
    return render_template(
        "bench_mode/ports.html",
        visit=visit,
        ports=testable_heads.ports(visit),
        draft=draft if draft and draft.reading_count else None,
        saved=_saved(visit, request.args.get("saved", "")),
        stage=test_names.stage_name,
    )


def _saved(visit: Visit, key: str) -> int | None:
    """Key of the test just saved, where it is of this head."""
    return next((row.id for row in visit.sessions if str(row.id) == key), None)


@blueprint.get("/bench/<tag>/benches")
def benches(tag: str) -> ResponseReturnValue:
    """Choose the range of a bench; where there is no choice, go on."""
    visit = jobs.visit(db(), tag)
    port = start.chosen_port()
    if port is None:
        return redirect(url_for("bench_mode.ports", tag=tag))
    ranges = taking.ranges_in_use()
    last = sessions.latest(db(), visit)
    chosen: dict[str, Any] = {"tag": tag, "side": port.side, "cylinder": port.cylinder}
    if not ranges:
        return redirect(url_for("bench_mode.test", **chosen))
    return render_template(
        "bench_mode/benches.html",
        visit=visit,
        port=port,
        chosen=chosen,
        ranges=ranges,
        last=last,
        today=today(),
    )


@blueprint.route("/bench/<tag>/test", methods=["GET", "POST"])
def test(tag: str) -> ResponseReturnValue:
    """Take the test."""
    return taking.take(tag, taking.BENCH)
