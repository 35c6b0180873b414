"""Taking a flow test: one form, laid out for a desk or for the bench."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from flask import flash, redirect, request, url_for
from flask.typing import ResponseReturnValue

from shopflow.calc import sanity
from shopflow.calc.reduction import Reduction
from shopflow.errors import FieldError, ValidationError
from shopflow.models import BenchRange, BenchSession, LiftList, Operation, Visit
from shopflow.services.bench import (
    bench_checks,
    benches,
    fixtures,
    reference_curves,
    sessions,
    sizes,
    test_drafts,
)
from shopflow.services.jobs import jobs
from shopflow.services.registry import lift_lists
from shopflow.testfile import SessionDocument
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.bench.sessions import live, start
from shopflow.web.bench.sessions.entry import Entry
from shopflow.web.bench.sessions.figures import TrialFigures, curve_before, trial_figures
from shopflow.web.bench.sessions.forms import SessionForm, UploadForm
from shopflow.web.context import today
from shopflow.web.db import db
from shopflow.web.drawing import USUAL_SIZE, Drawn, Size
from shopflow.web.forms import faults_by_field, faults_shown, form_page


@dataclass(frozen=True)
class Layout:
    """Templates of the form and of its results, and the page that follows a saved test."""

    form: str
    figures: str
    unfinished: str
    """Shown while the readings give no result yet."""

    after: Callable[[BenchSession], str]
    fits_chart: bool = False
    """True where the chart is drawn in the size that the page has room for."""

    def size(self, typed: Mapping[str, str]) -> Size:
        """Size of the chart, as the page's script asks for it."""
        if not self.fits_chart:
            return USUAL_SIZE
        return Size.from_texts(typed.get("chart_width", ""), typed.get("chart_height", ""))


DESK = Layout(
    form="sessions/new.html",
    figures="sessions/parts/figures.html",
    unfinished="sessions/parts/unfinished.html",
    after=lambda row: url_for("sessions.session", session_id=row.id),
)
BENCH = Layout(
    form="bench_mode/test.html",
    figures="bench_mode/figures.html",
    unfinished="bench_mode/unfinished.html",
    after=lambda row: url_for("bench_mode.ports", tag=row.job_head.tag, saved=row.id),
    fits_chart=True,
)
LAYOUTS = {"bench": BENCH}


def take(tag: str, layout: Layout) -> ResponseReturnValue:
    """The form of a head's flow test, or the page after it where the test is saved."""
    visit = jobs.visit(db(), tag)
    values = None if request.method == "POST" else start.values(visit)
    lists, over = lift_lists.list_all(db()), reference_curves.offered(db(), visit)
    form = SessionForm.for_head(visit, values, lists, over, fixtures.answers(db()))
    figures, changed_sizes = None, None
    sizes_of_side = None if form.is_submitted() else start.sizes_of(visit, values or {})
    if form.more_rows.data:
        form.add_rows()
    elif form.load_sizes.data:
        sizes_of_side = start.sizes_of(visit, form.data)
        form.fill(start.as_fields(sizes_of_side))
    elif form.use_air.data:
        air = start.earlier_air(visit)
        form.fill({"air": air.typed if air else {}})
    elif form.ld_lifts.data:
        form.set_lifts(_chosen_list(form))
    elif form.is_submitted():
        saved = sessions.of_entry(db(), visit, form.entry.data or "")
        if saved is not None:
            return _saved(saved, layout)
        sound = form.validate()
        with faults_shown(form):
            # Every fault is shown in one go: the readings' beside the missing fields'.
            document, reduction = reduced(visit)
            if sound and form.save.data:
                live.refuse_unseen(form.entry.data or "", form.captured.data or "")
                _refuse_impossible(form, reduction)
                return _store(visit, form, document, layout)
            if sound:
                figures = _trial(visit, form, document, reduction, layout)
                changed_sizes = differing(visit, document)
    if form.errors and _by_script():
        return faults_by_field(form), 422
    return form_page(
        layout.form,
        form,
        visit=visit,
        upload=UploadForm(),
        figures=figures,
        differing=changed_sizes,
        before=curve_behind(visit, form.against.data, form.side.data, layout),
        sizes=sizes_of_side,
        range_record=start.range_record(form.bench.form.test_pressure.data or ""),
        earlier_air=start.earlier_air(visit),
        open_test=test_drafts.of_head(db(), visit),
        ranges=ranges_in_use(),
        check_faults=bench_checks.faults,
        today=today(),
        now=actor().at,
    )


def _refuse_impossible(form: SessionForm, reduction: Reduction) -> None:
    """Ask about readings that cannot be before they are saved. Raises ValidationError."""
    places = sanity.impossible(reduction)
    if places and not form.as_doubtful.data:
        question = gettext("Tick this if the readings stay as they are.")
        raise ValidationError(
            [
                *Entry(request.form).doubted(places, form.flow_unit.data),
                FieldError("as_doubtful", question),
            ]
        )


def curve_behind(visit: Visit, over: str | None, side: str | None, layout: Layout) -> Drawn | None:
    """Curve of the test before, for the layout that shows it from the first reading on."""
    if not layout.fits_chart:
        return None
    return curve_before(visit, over or "", side or "intake", layout.size(request.form))


def ranges_in_use() -> list[tuple[BenchRange, str]]:
    """Every range of the benches in use, with its name."""
    in_use = [bench for bench in benches.list_all(db()) if bench.active]
    return [(row, f"{bench.name}, {row.name}") for bench in in_use for row in bench.ranges]


def reduced(visit: Visit) -> tuple[SessionDocument, Reduction]:
    """Typed values and their results. Raises ValidationError keyed by the form's fields."""
    return Entry(request.form).reduced(visit.head.engine_type.title, visit.head.identity)


def differing(visit: Visit, document: SessionDocument) -> list[sizes.Difference]:
    """Sizes typed that are not those of the head's last test of that side."""
    typed = {key: getattr(document, column) for key, column in sizes.COLUMNS.items()}
    return sizes.differing(db(), visit, document.side, document.cylinder, typed)


def _trial(
    visit: Visit,
    form: SessionForm,
    document: SessionDocument,
    reduction: Reduction,
    layout: Layout,
) -> TrialFigures:
    against = form.against.data or ""
    return trial_figures(visit, document, reduction, against, layout.size(request.form))


def _chosen_list(form: SessionForm) -> LiftList | None:
    key = form.lift_list.data or ""
    return next((row for row in lift_lists.list_all(db()) if str(row.id) == key), None)


def _store(
    visit: Visit, form: SessionForm, document: SessionDocument, layout: Layout
) -> ResponseReturnValue:
    """Save the test as entered; the draft ends."""
    followed = _followed(visit, form)
    row = sessions.store(db(), actor(), visit, document, followed, form.entry.data or "")
    test_drafts.end(db(), visit)
    flash(gettext("The test is saved."))
    return _saved(row, layout)


def _by_script() -> bool:
    """True where the page's script saves; it goes on only once it has the saved test."""
    return request.headers.get("X-Bench") == "save"


def _saved(row: BenchSession, layout: Layout) -> ResponseReturnValue:
    """The way on from a saved test."""
    address = layout.after(row)
    return ("", 201, {"Location": address}) if _by_script() else redirect(address)


def _followed(visit: Visit, form: SessionForm) -> Operation | None:
    return next((step for step in visit.operations if str(step.id) == form.after.data), None)
