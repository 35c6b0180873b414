"""The page that downloads a head's flow tests for engine simulation."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from datetime import datetime

from flask import Blueprint, Response, request
from flask.typing import ResponseReturnValue

from shopflow.models import Head
from shopflow.services.engine import for_simulation
from shopflow.services.registry import heads
from shopflow.simulation import TestedPort, archive, csv_of, json_of, tested_ports
from shopflow.web.auth import actor
from shopflow.web.db import db
from shopflow.web.engine.simulation.forms import SimulationForm
from shopflow.web.forms import form_page

blueprint = Blueprint("simulation", __name__)

Written = Callable[[Sequence[TestedPort], datetime], str | bytes]

FILES: dict[str, tuple[str, Written]] = {
    "zip": ("application/zip", archive),
    "csv": ("text/csv", lambda ports, _: csv_of(ports)),
    "json": (
        "application/json",
        lambda ports, _: json.dumps(json_of(ports), allow_nan=False, ensure_ascii=False, indent=1),
    ),
}
"""Media type and contents of each file, by its ending."""


@blueprint.get("/heads/<int:head_id>/simulation")
def head(head_id: int) -> ResponseReturnValue:
    """Choose flow tests, and download them as the file asked for."""
    row = heads.get(db(), head_id)
    form = SimulationForm.from_query(request.args, row)
    if request.args.get("file") in FILES and form.has_tests:
        return _file(row, form, request.args["file"])
    return form_page("simulation/head.html", form, head=row)


def _file(row: Head, form: SimulationForm, ending: str) -> Response:
    media_type, written = FILES[ending]
    ports = tested_ports(for_simulation.documents(form.rows))
    headers = {"Content-Disposition": f'attachment; filename="simulation-head-{row.id}.{ending}"'}
    return Response(written(ports, actor().at), mimetype=media_type, headers=headers)
