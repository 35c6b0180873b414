"""Sums for the engine a head goes on: compression, inlet Mach index, exhaust gas, turbine.

Opened from an engine type, a calculator starts from what is recorded of that.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

from flask import Blueprint, render_template, request
from flask.typing import ResponseReturnValue
from werkzeug.datastructures import MultiDict
from werkzeug.exceptions import NotFound

from shopflow.documents import Figure
from shopflow.models import EngineType
from shopflow.services.hand_off import calculator_defaults, engine_calculations, mach_index
from shopflow.services.hand_off.turbo_balance import LIMITS, turbo_balance_figures
from shopflow.services.registry import engine_types
from shopflow.texts import lazy
from shopflow.web.context import system
from shopflow.web.db import db
from shopflow.web.forms import faults_shown
from shopflow.web.hand_off.engine_calculations.forms import (
    BalanceForm,
    CompressionForm,
    GasForm,
    MachForm,
    SumForm,
    TurbineForm,
)

blueprint = Blueprint("engine_calculations", __name__, url_prefix="/calculators")


ENGINE = "engine"
"""Name of the key of the engine type in an address."""


class Sum(NamedTuple):
    """One sum: its title, form and working."""

    title: str
    form: type[SumForm]
    work: Callable[[Mapping[str, Any]], list[Figure]]
    limits: tuple[str, ...] = ()
    """Sentences on what it leaves out, with its cautions."""


def _balanced(values: Mapping[str, Any]) -> list[Figure]:
    return turbo_balance_figures(values, system())


SUMS = {
    "compression": Sum(
        lazy("Compression ratio"), CompressionForm, engine_calculations.compression_ratio
    ),
    "inlet-mach": Sum(lazy("Mean inlet Mach index"), MachForm, mach_index.mach_index),
    "exhaust-gas": Sum(
        lazy("Exhaust gas against intake"), GasForm, engine_calculations.gas_volumes
    ),
    "turbine": Sum(lazy("Power for a turbine"), TurbineForm, engine_calculations.turbine_power),
    "turbo-balance": Sum(lazy("Back pressure for boost"), BalanceForm, _balanced, LIMITS),
}


@blueprint.get("")
def index() -> ResponseReturnValue:
    """The sums there are."""
    return render_template("engine_calculations/index.html", sums=SUMS, engine_type=_engine_type())


@blueprint.get("/<name>")
def work_out(name: str) -> ResponseReturnValue:
    """One sum, calculated where its figures are given."""
    if name not in SUMS:
        raise NotFound
    chosen, engine_type = SUMS[name], _engine_type()
    has_input = bool(request.args.keys() - {ENGINE})
    usual = calculator_defaults.of_engine_type(db(), engine_type) if engine_type else {}
    form = chosen.form.from_query(request.args if has_input else MultiDict(usual) or None)
    figures: list[Figure] = []
    if has_input and form.validate():
        with faults_shown(form):
            figures = chosen.work(form.values)
    page = render_template(
        "engine_calculations/sum.html",
        chosen=chosen,
        form=form,
        figures=figures,
        engine_type=engine_type,
    )
    return page, 422 if form.errors else 200


def _engine_type() -> EngineType | None:
    key = request.args.get(ENGINE, type=int)
    return engine_types.get(db(), key) if key is not None else None
