"""The sheet of a head: shown, filled cell by cell by its script, or saved whole without one."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopflow.models import Operation, Visit, When
from shopflow.papers.chambers import chamber_notes
from shopflow.services.hand_off import chambers
from shopflow.services.jobs import jobs
from shopflow.services.measuring import limit_checks, sheets
from shopflow.services.routing import operations
from shopflow.services.shop import built_in_kinds
from shopflow.services.springs import sheets as spring_sheets
from shopflow.services.springs import shims
from shopflow.texts import gettext, ngettext
from shopflow.web.auth import actor
from shopflow.web.db import db, rollback
from shopflow.web.filters import sentence
from shopflow.web.measuring.sheets import head_map
from shopflow.web.measuring.sheets.forms import Filled, fill, units
from shopflow.web.rights import may

blueprint = Blueprint("sheets", __name__)

TAKEN = {"": (When.BEFORE, When.AFTER), "before": (When.BEFORE,), "after": (When.AFTER,)}
"""The columns of each kind, by what the address asks for."""


@blueprint.get("/heads/<tag>/sheet")
def sheet(tag: str) -> ResponseReturnValue:
    """A head's measurements by place."""
    visit = jobs.visit(db(), tag)
    return _page(visit, Filled())


@blueprint.post("/heads/<tag>/sheet")
def save(tag: str) -> ResponseReturnValue:
    """Save every cell that was changed; none where one of them has a fault."""
    visit = jobs.visit(db(), tag)
    filled = _filled(visit, _step(visit))
    if filled.faults:
        rollback()
        return _page(jobs.visit(db(), tag), filled), 422
    saved = gettext(
        "Saved: {plural}.", plural=ngettext("{num} measurement", "{num} measurements", filled.count)
    )
    flash(saved if filled.count else gettext("Nothing changed."))
    return redirect(url_for("sheets.sheet", tag=tag, **_parameters()))


@blueprint.post("/heads/<tag>/sheet/cells")
def cells(tag: str) -> ResponseReturnValue:
    """Save the cells sent; answers each as it is now, and the map drawn again."""
    visit = jobs.visit(db(), tag)
    step = _step(visit)
    filled = _filled(visit, step)
    answered = {
        name: {
            "text": cell.text,
            "state": cell.state,
            "words": cell.verdict,
            "limits": cell.limits,
            "doubt": cell.doubt,
        }
        for name, cell in filled.cells.items()
    }
    summary = render_template("sheets/summary.html", **_shown(visit, step))
    faults = {name: f"{sentence(words)}." for name, words in filled.faults.items()}
    content = {"cells": answered, "faults": faults, "now": filled.now, "summary": summary}
    # Where a queue sent them, a repeat is known by its key and led here.
    return content, {"Content-Location": url_for("sheets.sheet", tag=tag, **_parameters())}


def _filled(visit: Visit, step: Operation | None) -> Filled:
    operations.must_be_open(visit)
    return fill(visit, step, actor(), request.form)


def _page(visit: Visit, filled: Filled) -> str:
    step = _step(visit)
    if visit.head.plan is None:
        return render_template("sheets/no_layout.html", visit=visit, step=step)
    needed = spring_sheets.of_head(db(), visit)
    equal = chambers.of_head(db(), visit)
    return render_template(
        "sheets/sheet.html",
        shims=needed,
        worst=shims.worst(needed),
        to_pick=spring_sheets.picking(needed),
        chambers=equal,
        chamber_notes=chamber_notes(equal) if equal else [],
        visit=visit,
        step=step,
        typed=request.form,
        faults=filled.faults,
        kinds=built_in_kinds.measurement_kinds(db()),
        asked=_parameters(),
        taken=request.args.get("taken", ""),
        editable=may("sheets.save") and visit.job.is_open,
        **_shown(visit, step),
    )


def _shown(visit: Visit, step: Operation | None) -> dict[str, Any]:
    """The sheet, its map and what the step asks for."""
    chosen = sheets.usual_columns(db(), visit, step, request.args.getlist("kind"))
    whens = TAKEN.get(request.args.get("taken", ""), TAKEN[""])
    sheet = sheets.sheet(db(), visit, step, chosen, units(request.form), whens)
    figures = built_in_kinds.figures_by_code(db())
    return {
        "sheet": sheet,
        "chosen": {kind.code for kind in chosen},
        "map": head_map.drawn(sheet),
        "progress": limit_checks.asked_for(step, figures) if step else [],
    }


def _parameters() -> dict[str, Any]:
    """Parameters of the address, for the next one."""
    wanted = {name: request.args.getlist(name) for name in ("operation", "kind", "taken")}
    return {name: values for name, values in wanted.items() if values}


def _step(visit: Visit) -> Operation | None:
    """The step the address names; none for measurements on receipt."""
    return operations.of_head(visit, request.args.get("operation", ""))
