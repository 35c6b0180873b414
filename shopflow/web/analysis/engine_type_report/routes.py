"""The page of the report of one engine type."""

from __future__ import annotations

from flask import Blueprint, render_template, url_for
from flask.typing import ResponseReturnValue

from shopflow.papers.engine_type_report import (
    ABOUT,
    basis,
    best_columns,
    best_rows,
    gain_columns,
    gain_rows,
    side_title,
)
from shopflow.services.analysis import engine_type_report
from shopflow.services.registry import attachments, engine_types
from shopflow.web.auth import actor
from shopflow.web.context import system
from shopflow.web.db import db

blueprint = Blueprint("engine_type_report", __name__)


@blueprint.get("/engines/<int:engine_type_id>/report")
def report(engine_type_id: int) -> ResponseReturnValue:
    """Show what worked on the past heads of an engine type."""
    row = engine_types.get(db(), engine_type_id)
    content = engine_type_report.report(db(), row, actor().at)
    photos = [
        file
        for visit in engine_type_report.pictured(db(), content)
        for file in attachments.of_stay(db(), visit)
        if file.is_photo
    ]
    return render_template(
        "engine_type_report/report.html",
        engine_type=row,
        content=content,
        gain_columns=gain_columns(),
        gain_rows=gain_rows(content),
        best_columns=best_columns(system()),
        best_rows={side.side: best_rows(content, side) for side in content.sides},
        gain_links=[
            url_for("forecasts.forecast", engine_type_id=row.id, steps=gain.key, side=gain.side)
            for gain in content.gains
        ],
        best_links={
            side.side: [url_for("jobs.visit", tag=head.tag) for head in side.best]
            for side in content.sides
        },
        side_title=side_title,
        basis=basis,
        units=system(),
        photos=photos[: engine_type_report.MOST_PHOTOS],
        about=ABOUT,
    )
