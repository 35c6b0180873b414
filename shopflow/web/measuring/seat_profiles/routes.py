"""Seat profiles: a head's, seat by seat, and the usual ones of an engine type."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopflow.errors import NotFoundError, ValidationError
from shopflow.models import HeadPlace, SeatProfile, Visit, When
from shopflow.models.places import SIDES
from shopflow.services.jobs import jobs
from shopflow.services.measuring import seat_defaults, seat_entry, seat_profiles
from shopflow.services.paperwork import seat_sheets
from shopflow.services.registry import engine_types
from shopflow.services.routing import operations
from shopflow.texts import gettext, lazy, ngettext, translated
from shopflow.web.auth import actor
from shopflow.web.context import system
from shopflow.web.db import db
from shopflow.web.filters import sentence
from shopflow.web.forms import faults_shown, form_page, show_faults
from shopflow.web.measuring.seat_profiles.drawing import DrawnSeat, drawn, of_visit
from shopflow.web.measuring.seat_profiles.forms import SeatForm
from shopflow.web.rights import may

blueprint = Blueprint("seat_profiles", __name__)

UNITS = {"in": lazy("inches"), "mm": lazy("millimeters")}
STAGES = {"before": lazy("Condition on arrival"), "after": lazy("After the work")}


@blueprint.get("/heads/<tag>/seats")
def of_head(tag: str) -> ResponseReturnValue:
    """A head's seats: each distinct profile drawn, then seat by seat, then earlier visits."""
    visit = jobs.visit(db(), tag)
    if visit.head.plan is None:
        return render_template("sheets/no_layout.html", visit=visit, step=None)
    return render_template(
        "seat_profiles/of_head.html",
        visit=visit,
        stages={When.AFTER: of_visit(visit, When.AFTER), When.BEFORE: of_visit(visit, When.BEFORE)},
        words=STAGES,
        seats=[
            (seat, {when: seat_profiles.profile_at(visit, seat, when) for when in When})
            for seat in seat_profiles.seats_of(visit)
        ],
        in_a_line=lambda row: seat_sheets.in_a_line(row, system()),
        earlier=seat_profiles.earlier(db(), visit),
        editable=may("seat_profiles.seat") and visit.job.is_open,
    )


@blueprint.route(
    "/heads/<tag>/seats/<int:cylinder>/<side>/<int:valve>/<when>", methods=["GET", "POST"]
)
def seat(tag: str, cylinder: int, side: str, valve: int, when: str) -> ResponseReturnValue:
    """Enter the profile of one seat."""
    visit, stage = jobs.visit(db(), tag), _stage(when)
    place = seat_profiles.seat_at(visit, cylinder, side, valve)
    start = seat_defaults.start(db(), visit, place, stage, fill=request.args.get("fill") == "usual")
    form = SeatForm.over(start)
    if _is_to_save(form):
        with faults_shown(form, start.profile):
            operations.must_be_open(visit)
            row = seat_profiles.save(db(), actor(), visit, place, stage, form.typed, system())
            flash(gettext("The profile of {seat} is saved.", seat=place.label))
            return redirect(_at(row))
    page = _page(form, place.label, stage, start.profile)
    others = seat_profiles.copies_to(start.profile) if start.profile else []
    return form_page(
        "seat_profiles/seat.html",
        form,
        visit=visit,
        place=place,
        stage=STAGES[when],
        start=start,
        others=others,
        replaced=_replaced(visit, others, stage),
        back=url_for("seat_profiles.of_head", tag=tag),
        **page,
    )


@blueprint.post("/seat-profiles/<int:profile_id>/copy")
def copy(profile_id: int) -> ResponseReturnValue:
    """Copy a profile to all seats of its side."""
    row = seat_profiles.get(db(), profile_id)
    _must_be_open(row)
    count = seat_profiles.copy_to_side(db(), actor(), row)
    copied = ngettext(
        "Copied to {num} {side} seat.",
        "Copied to {num} {side} seats.",
        count,
        side=translated(row.side),
    )
    flash(copied)
    return redirect(_back(row))


@blueprint.post("/seat-profiles/<int:profile_id>/remove")
def remove(profile_id: int) -> ResponseReturnValue:
    """Remove a profile."""
    row = seat_profiles.get(db(), profile_id)
    _must_be_open(row)
    back = _back(row)
    seat_profiles.remove(db(), actor(), row)
    flash(gettext("The seat profile was removed."))
    return redirect(back)


@blueprint.get("/engines/<int:engine_type_id>/seats")
def of_engine(engine_type_id: int) -> ResponseReturnValue:
    """The usual seats of an engine type's heads."""
    row = engine_types.get(db(), engine_type_id)
    profiles = {side: seat_profiles.usual(db(), row, side) for side in SIDES}
    return render_template(
        "seat_profiles/of_engine.html",
        engine_type=row,
        sides={
            side: profile and drawn(_usual_sheet(profile), f"seat-{side}", profile)
            for side, profile in profiles.items()
        },
    )


@blueprint.route("/engines/<int:engine_type_id>/seats/<side>", methods=["GET", "POST"])
def usual(engine_type_id: int, side: str) -> ResponseReturnValue:
    """Enter the usual seat of one side of an engine type's heads."""
    if side not in SIDES:
        raise NotFoundError(gettext("choose intake or exhaust"))
    row = engine_types.get(db(), engine_type_id)
    start = seat_defaults.start_usual(db(), row, side)
    form = SeatForm.over(start)
    back = url_for("seat_profiles.of_engine", engine_type_id=row.id)
    if _is_to_save(form):
        with faults_shown(form, start.profile):
            seat_profiles.save_usual(db(), actor(), row, side, form.typed, system())
            flash(gettext("The usual {side} seat is saved.", side=translated(side)))
            return redirect(back)
    page = _page(
        form, gettext("{side} seat, usual", side=translated(side)), When.AFTER, start.profile
    )
    return form_page(
        "seat_profiles/usual.html", form, engine_type=row, side=side, back=back, **page
    )


@blueprint.post("/seats/preview/<when>")
def preview(when: str) -> ResponseReturnValue:
    """Draw a seat as typed, or tell why it cannot be drawn; nothing is saved.

    `contact` is the row to tick while no cut is said to carry the valve.
    """
    stage, form = _stage(when), SeatForm()
    seat, faults = _drawn_as_typed(form, gettext("seat as typed"), stage)
    return {
        "html": render_template("seat_profiles/drawn.html", seat=seat) if seat else "",
        "faults": [f"{sentence(fault)}." for fault in faults],
        "contact": seat_entry.suggested_row(form.typed["cuts"]),
    }


def _is_to_save(form: SeatForm) -> bool:
    """Tell whether the form was sent to be saved; a row may have been asked for instead."""
    if form.more_cuts.data:
        form.add_rows()
        return False
    return not form.preview.data and bool(form.validate_on_submit())


def _page(form: SeatForm, label: str, stage: When, profile: SeatProfile | None) -> dict[str, Any]:
    """The drawing beside the form: as typed where that can be drawn, else as it is on record."""
    if form.is_submitted():
        seat, _ = _drawn_as_typed(form, label, stage, show=bool(form.preview.data))
    elif profile is not None:
        seat = drawn(_sheet(profile, label), "seat", profile)
    else:
        seat, _ = _drawn_as_typed(form, label, stage)
    return {"seat": seat, "unit": UNITS[system().unit("seat")], "when": stage.value}


def _drawn_as_typed(
    form: SeatForm, label: str, stage: When, show: bool = False
) -> tuple[DrawnSeat | None, list[str]]:
    """The seat as typed; none, and the faults, where it cannot be."""
    try:
        entry = seat_entry.read(form.typed, system(), stage)
    except ValidationError as error:
        if show:
            show_faults(form, error)
        return None, list(dict.fromkeys(fault.message for fault in error.faults))
    return drawn(seat_sheets.entered(entry, system(), sentence(label)), "seat"), []


def _sheet(profile: SeatProfile, label: str) -> Any:
    return seat_sheets.sheet(profile, system(), sentence(label))


def _usual_sheet(profile: SeatProfile) -> Any:
    return _sheet(profile, gettext("{side} seat, usual", side=translated(profile.side)))


def _must_be_open(row: SeatProfile) -> None:
    """Refuse to change a seat of a closed job. Raises RuleError."""
    if row.job_head is not None:
        operations.must_be_open(row.job_head)


def _replaced(visit: Visit, others: list[HeadPlace], stage: When) -> int:
    """Number of other seats that have a profile already."""
    return sum(seat_profiles.profile_at(visit, seat, stage) is not None for seat in others)


def _stage(when: str) -> When:
    if when not in STAGES:
        raise NotFoundError(gettext("choose condition on arrival or after the work"))
    return When(when)


def _at(row: SeatProfile) -> str:
    """The page of a profile of a head."""
    visit = row.job_head
    if visit is None:
        return _back(row)
    return url_for(
        "seat_profiles.seat", tag=visit.tag, cylinder=row.cylinder, side=row.side,
        valve=row.valve, when=row.when.value,
    )  # fmt: skip


def _back(row: SeatProfile) -> str:
    """The page that lists a profile with others."""
    if row.job_head is not None:
        return url_for("seat_profiles.of_head", tag=row.job_head.tag)
    return url_for("seat_profiles.of_engine", engine_type_id=row.engine_type_id)
