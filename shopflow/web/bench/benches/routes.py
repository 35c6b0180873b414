"""Benches: the list, one bench with its ranges and calibrations, adding to them."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopflow.models import Bench
from shopflow.services.bench import (
    bench_checks,
    bench_days,
    bench_records,
    benches,
    calibration_points,
    calibrations,
    leak_tests,
    plate_exchanges,
)
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.bench.benches import fits
from shopflow.web.bench.benches.drift import drift_charts
from shopflow.web.bench.benches.forms import (
    BenchForm,
    CalibrationForm,
    CheckForm,
    LeakForm,
    RangeForm,
    RecordForm,
    offered,
)
from shopflow.web.context import system, today
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page

blueprint = Blueprint("benches", __name__, url_prefix="/benches")


@blueprint.get("")
def index() -> ResponseReturnValue:
    """Every bench, and how its calibrations stand."""
    return render_template("benches/index.html", benches=benches.list_all(db()), today=today())


@blueprint.get("/<int:bench_id>")
def bench(bench_id: int) -> ResponseReturnValue:
    """One bench: its ranges, and every calibration they were given."""
    row = benches.get(db(), bench_id)
    charts = {each_range.id: drift_charts(each_range) for each_range in row.ranges}
    records = {
        each_range.id: bench_records.of_range(db(), each_range, day=today())
        for each_range in row.ranges
    }
    return render_template(
        "benches/bench.html",
        bench=row,
        today=today(),
        charts=charts,
        records=records,
        missing=bench_days.missing(db(), row, today()),
        en_number=plate_exchanges.score,
        en_verdict=plate_exchanges.verdict,
    )


@blueprint.route("/new", methods=["GET", "POST"])
def create() -> ResponseReturnValue:
    """Add a bench."""
    form = BenchForm()
    if form.validate_on_submit():
        with faults_shown(form):
            bench_row = benches.create(db(), actor(), form.values)
            flash(gettext("{bench_row} is added. Add its ranges next.", bench_row=bench_row.name))
            return _to_page(bench_row)
    return form_page("benches/form.html", form, bench=None)


@blueprint.route("/<int:bench_id>/change", methods=["GET", "POST"])
def change(bench_id: int) -> ResponseReturnValue:
    """Change a bench, or take it out of use."""
    row = benches.get(db(), bench_id)
    form = BenchForm(obj=row)
    if form.validate_on_submit():
        with faults_shown(form, row):
            benches.change(db(), actor(), row, form.values)
            flash(gettext("{row} is saved.", row=row.name))
            return _to_page(row)
    return form_page("benches/form.html", form, bench=row)


@blueprint.route("/<int:bench_id>/ranges/new", methods=["GET", "POST"])
def add_range(bench_id: int) -> ResponseReturnValue:
    """Add a range."""
    row = benches.get(db(), bench_id)
    form = offered(RangeForm(), row)
    if form.validate_on_submit():
        with faults_shown(form):
            range_row = benches.add_range(db(), actor(), row, form.values)
            flash(
                gettext(
                    "Range {range_row} is added. Record its calibration next.",
                    range_row=range_row.name,
                )
            )
            return _to_page(row)
    return form_page("benches/range.html", form, bench=row)


@blueprint.route("/ranges/<int:range_id>/record", methods=["GET", "POST"])
def record(range_id: int) -> ResponseReturnValue:
    """Change what new tests of a range start with."""
    row = benches.get_range(db(), range_id)
    form = RecordForm(obj=row)
    if form.validate_on_submit():
        with faults_shown(form, row):
            benches.change_record(db(), actor(), row, form.values)
            flash(gettext("New tests on range {row} start with this.", row=row.name))
            return _to_page(row.bench)
    return form_page("benches/record.html", form, range=row, bench=row.bench)


@blueprint.route("/ranges/<int:range_id>/calibrate", methods=["GET", "POST"])
def calibrate(range_id: int) -> ResponseReturnValue:
    """Record a calibration of a range."""
    row, fit = benches.get_range(db(), range_id), None
    form = CalibrationForm.for_range(row, today(), system().unit("flow"))
    if form.more_rows.data:
        form.add_rows()
    elif form.show_fit.data:
        with faults_shown(form):
            fit = fits.of_columns(row, calibration_points.read_points(row, form.values))
    elif form.validate_on_submit():
        with faults_shown(form):
            calibration = calibrations.calibrate(db(), actor(), row, form.values)
            flash(gettext("Calibration {identifier} is saved.", identifier=calibration.identifier))
            return _to_page(row.bench)
    return form_page("benches/calibrate.html", form, range=row, bench=row.bench, fit=fit)


@blueprint.get("/calibrations/<int:calibration_id>")
def calibration(calibration_id: int) -> ResponseReturnValue:
    """One calibration, with the fit of its points."""
    row = calibrations.get_calibration(db(), calibration_id)
    return render_template(
        "benches/calibration.html", calibration=row, fit=fits.of_calibration(row)
    )


@blueprint.route("/ranges/<int:range_id>/leakage", methods=["GET", "POST"])
def leakage(range_id: int) -> ResponseReturnValue:
    """Record a leak test of a range, its latest one shown beside."""
    row = benches.get_range(db(), range_id)
    latest = row.leak_tests[-1] if row.leak_tests else None
    view = fits.of_leak_test(latest) if latest else None
    pressure = "inH2O" if system().unit("flow") == "cfm" else "kPa"
    form = LeakForm.for_range(row, today(), pressure, system().unit("flow"))
    if form.more_rows.data:
        form.add_rows()
    elif form.show_fit.data:
        with faults_shown(form):
            latest, view = None, fits.of_leaks(leak_tests.read(row, form.values))
    elif form.validate_on_submit():
        with faults_shown(form):
            leak_tests.record(db(), actor(), row, form.values)
            flash(
                gettext("The leak test is saved: new tests on this range start with its leakage.")
            )
            return _to_page(row.bench)
    return form_page(
        "benches/leakage.html", form, range=row, bench=row.bench, latest=latest, view=view
    )


@blueprint.route("/ranges/<int:range_id>/check", methods=["GET", "POST"])
def check(range_id: int) -> ResponseReturnValue:
    """Record a check of a range against a plate."""
    row = benches.get_range(db(), range_id)
    form = CheckForm.after(row.checks[-1] if row.checks else None)
    if form.validate_on_submit():
        with faults_shown(form):
            check_row = bench_checks.check(db(), actor(), row, form.values)
            flash(
                gettext(
                    "The check is saved: {ratio:.4f} of the plate's flow.", ratio=check_row.ratio
                )
            )
            if request.args.get("then") == "day":
                return redirect(url_for("bench_days.current", bench_id=row.bench_id))
            return _to_page(row.bench)
    return form_page("benches/check.html", form, range=row, bench=row.bench)


def _to_page(row: Bench) -> ResponseReturnValue:
    return redirect(url_for("benches.bench", bench_id=row.id))
