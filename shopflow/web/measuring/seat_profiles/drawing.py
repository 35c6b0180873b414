"""Seat profiles drawn for a page."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from shopflow.charts import svg
from shopflow.charts.seat_section import layout_seat
from shopflow.documents.seat import SeatSheet
from shopflow.models import SeatProfile, Visit, When
from shopflow.papers.seat_section import section
from shopflow.services.measuring import seat_profiles
from shopflow.services.paperwork import seat_sheets
from shopflow.web.context import system


@dataclass(frozen=True)
class DrawnSeat:
    """A profile with its drawing; of those on record, the seats that share it."""

    sheet: SeatSheet
    drawing: Markup
    profiles: tuple[SeatProfile, ...] = ()

    @property
    def others(self) -> int:
        """Seats of its side that do not have it."""
        if not self.profiles or self.profiles[0].job_head is None:
            return 0
        return len(seat_profiles.copies_to(self.profiles[0])) + 1 - len(self.profiles)


def drawn(sheet: SeatSheet, prefix: str, *profiles: SeatProfile) -> DrawnSeat:
    """A profile drawn; `prefix` keeps its ids apart from others' on the page."""
    # The text in it was escaped when the drawing was written.
    drawing = Markup(svg.render(layout_seat(section(sheet, system())), prefix))
    return DrawnSeat(sheet, drawing, profiles)


def of_visit(visit: Visit, when: When) -> list[DrawnSeat]:
    """Each distinct profile of a visit's seats."""
    return [
        drawn(
            seat_sheets.sheet(rows[0], system(), seat_sheets.title(rows)),
            f"seat-{rows[0].id}",
            *rows,
        )
        for rows in seat_sheets.distinct(visit, when)
    ]
