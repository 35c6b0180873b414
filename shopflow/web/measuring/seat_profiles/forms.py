"""The form of a seat profile: a row for each cut, and the valve it is cut for."""

from __future__ import annotations

from typing import Any

from wtforms import BooleanField, FieldList, FormField, SubmitField
from wtforms import Form as Fields

from shopflow.models import SeatCut
from shopflow.services.measuring import seat_entry, sheet_cells
from shopflow.services.measuring.seat_defaults import Start
from shopflow.services.measuring.seat_profiles import CUT
from shopflow.texts import lazy
from shopflow.units import Quantity
from shopflow.web.context import system
from shopflow.web.fields import TypedField
from shopflow.web.forms import EditForm

FEWEST_ROWS = 3


class CutForm(Fields):
    """One cut."""

    angle = TypedField(lazy("Angle, °"), render_kw={"inputmode": "decimal"})
    width = TypedField(lazy("Width"), render_kw={"inputmode": "decimal"})
    outer_diameter = TypedField(lazy("Outer diameter"), render_kw={"inputmode": "decimal"})
    blend_radius = TypedField(lazy("Blend radius"), render_kw={"inputmode": "decimal"})
    tool = TypedField(lazy("Cutter or stone"))
    is_contact = BooleanField(lazy("Carries valve"))


class SeatForm(EditForm):
    """A seat's cuts from the chamber to the throat."""

    cuts = FieldList(
        FormField(CutForm),
        lazy("Cuts"),
        min_entries=FEWEST_ROWS,
        max_entries=seat_entry.MOST_CUTS,
    )
    more_cuts = SubmitField(lazy("Add row"))
    preview = SubmitField(lazy("Update drawing"))
    head_diameter = TypedField(
        lazy("Valve head diameter (optional)"), render_kw={"inputmode": "decimal"}
    )
    margin = TypedField(lazy("Valve margin (optional)"), render_kw={"inputmode": "decimal"})
    throat_diameter = TypedField(
        lazy("Throat diameter (optional)"),
        lazy("Narrowest below the seat. It ends the last cut where that has no width."),
        render_kw={"inputmode": "decimal"},
    )
    contact_position = TypedField(
        lazy("Contact below the margin (optional)"),
        lazy("Along the valve face. In place of an outer diameter."),
        render_kw={"inputmode": "decimal"},
    )
    notes = TypedField(lazy("Notes (optional)"))

    @classmethod
    def over(cls, start: Start) -> SeatForm:
        """The form filled with what a profile starts from, and an empty row at its end."""
        rows: list[dict[str, Any]] = [_row(cut) for cut in start.cuts]
        sizes = {name: _bare(value) for name, value in start.values.items()}
        version = {"version": str(start.profile.version)} if start.profile else {}
        form = cls(data={**sizes, "cuts": rows, **version})
        if not form.is_submitted() and len(form.cuts) < seat_entry.MOST_CUTS and rows:
            form.cuts.append_entry()
        return form

    def add_rows(self) -> None:
        """Offer another row."""
        if len(self.cuts) < seat_entry.MOST_CUTS:
            self.cuts.append_entry()

    @property
    def typed(self) -> dict[str, Any]:
        """The profile as typed, for the service."""
        return {
            name: value for name, value in self.values.items()
            if name not in ("more_cuts", "preview")
        }  # fmt: skip


def _row(cut: SeatCut) -> dict[str, Any]:
    return {name: _bare(getattr(cut, name)) for name in CUT}


def _bare(value: Any) -> Any:
    """A quantity as its field holds it: a bare number in the shop's unit or in degrees."""
    if not isinstance(value, Quantity):
        return value
    unit = "deg" if value.unit == "deg" else system().unit("seat")
    return sheet_cells.in_unit(value, unit)
