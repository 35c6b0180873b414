"""Hand-off notes: writing, signing, taking the signature back."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, url_for
from flask.typing import ResponseReturnValue

from shopflow.errors import NotFoundError
from shopflow.models import HandOffNote
from shopflow.papers.chambers import chamber_notes
from shopflow.papers.letters import wrong_letters
from shopflow.services.hand_off import chambers, notes, sheets, spring_setup
from shopflow.services.hand_off.engine_figures import engine_figures
from shopflow.services.jobs import jobs
from shopflow.services.springs import sheets as spring_sheets
from shopflow.services.springs.seat_loads import SIDES, unsigned_because
from shopflow.texts import gettext, translated
from shopflow.web.auth import actor
from shopflow.web.context import system
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.hand_off.notes.forms import HandOffForm

blueprint = Blueprint("hand_offs", __name__)


@blueprint.route("/heads/<tag>/hand-off", methods=["GET", "POST"])
def edit(tag: str) -> ResponseReturnValue:
    """Write a head's hand-off note, or rewrite it while it is unsigned."""
    visit = jobs.visit(db(), tag)
    note = visit.hand_off
    form = HandOffForm.of(visit)
    if form.more_figures.data:
        for _ in range(3):
            if len(form.figures) < form.figures.max_entries:
                form.figures.append_entry()
    elif form.validate_on_submit():
        with faults_shown(form, note):
            notes.write(
                db(), actor(), visit, form.note_values, form.valve_values, form.figure_values,
                form.engine_values,
            )  # fmt: skip
            flash(gettext("The hand-off note is saved."))
            return redirect(url_for("hand_offs.edit", tag=tag))
    springs = {side: spring_sheets.side(db(), visit, side, system()) for side in SIDES}
    worked_out = {
        gettext(
            "{capitalize} valves and springs", capitalize=translated(valve.side).capitalize()
        ): spring_setup.side_figures(valve, system(), springs[valve.side]).figures
        for valve in (note.valves if note else ())
    }
    if note is not None and note.engine is not None:
        worked_out[gettext("Engine")] = engine_figures(db(), note, system())
    equal = chambers.of_head(db(), visit)
    sheet = sheets.hand_off(db(), visit) if note and note.has_figures else None
    return form_page(
        "hand_offs/edit.html",
        form,
        visit=visit,
        note=note,
        sheet=sheet,
        worked_out=worked_out,
        springs=list(springs.values()),
        chambers=equal,
        chamber_notes=chamber_notes(equal) if equal else [],
        unsigned_because=list(unsigned_because(note)) if note and sheet else [],
        wrong=wrong_letters(sheet),
    )


@blueprint.post("/heads/<tag>/hand-off/sign")
def sign(tag: str) -> ResponseReturnValue:
    """Sign a note."""
    notes.sign(db(), actor(), _note(tag))
    flash(gettext("The hand-off note is signed."))
    return redirect(url_for("hand_offs.edit", tag=tag))


@blueprint.post("/heads/<tag>/hand-off/take-back")
def take_back(tag: str) -> ResponseReturnValue:
    """Take the signature back, so that the note can be changed."""
    notes.take_back(db(), actor(), _note(tag))
    flash(gettext("The signature is withdrawn."))
    return redirect(url_for("hand_offs.edit", tag=tag))


def _note(tag: str) -> HandOffNote:
    note = jobs.visit(db(), tag).hand_off
    if note is None:
        raise NotFoundError(gettext("{tag} has no hand-off note yet", tag=tag))
    return note
