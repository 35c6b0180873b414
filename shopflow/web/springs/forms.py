"""The form of a side's springs: loads by height, heights, room wanted, and lift."""

from __future__ import annotations

from typing import Any

from wtforms import BooleanField, FieldList, FormField, SubmitField
from wtforms import Form as PlainForm

from shopflow.models import Spring
from shopflow.services.springs import records
from shopflow.texts import lazy
from shopflow.web.fields import DecimalField, QuantityField, TypedField, WordsField
from shopflow.web.forms import EditForm

FEWEST_POINTS = 4


class PointForm(PlainForm):
    """The load at one height."""

    height = QuantityField(lazy("Height"), "length")
    load = QuantityField(lazy("Load"), "force")
    measured = BooleanField(lazy("Measured"))


class SpringForm(EditForm):
    """The springs of one side."""

    name = TypedField(lazy("Spring (optional)"), lazy("For example dual, orange stripe."))
    points = FieldList(
        FormField(PointForm), min_entries=FEWEST_POINTS, max_entries=records.MOST_POINTS
    )
    coil_bind_height = QuantityField(
        lazy("Coil bind height"), "length", lazy("Height at which the coils touch.")
    )
    wanted_height = QuantityField(
        lazy("Installed height wanted"), "length", lazy("Shims are calculated to it.")
    )
    least_bind_room = QuantityField(
        lazy("Least room to coil bind"), "length", lazy("At full lift. For example 0.050 in.")
    )
    least_retainer_room = QuantityField(
        lazy("Least room, retainer to guide"), "length", lazy("At full lift.")
    )
    valve_lift = QuantityField(
        lazy("Valve lift"), "length", lazy("Leave blank to use the cam or the job’s lift.")
    )
    lobe_lift = QuantityField(
        lazy("Lobe lift"), "length", lazy("In place of the valve lift, with the rocker ratio.")
    )
    rocker_ratio = DecimalField(lazy("Rocker ratio"), lazy("For example 1.5."))
    lash = QuantityField(lazy("Lash"), "length", lazy("Taken off the lift. 0 in for none."))
    notes = WordsField(lazy("Notes"))
    save = SubmitField(lazy("Save springs"))
    more_points = SubmitField(lazy("Add points"))

    @classmethod
    def over(cls, row: Spring | None, usual: Spring | None = None) -> SpringForm:
        """The form of springs on record or, for new ones, filled with the usual ones."""
        version = {"version": row.version} if row is not None else {}
        return cls(data=_values(row or usual) | version)

    @property
    def spring_values(self) -> dict[str, Any]:
        """The springs' own fields."""
        return {name: self.data[name] for name in records.FIELDS}

    @property
    def point_values(self) -> list[dict[str, Any]]:
        """The points, empty ones with them."""
        return list(self.data["points"])

    def add_points(self) -> None:
        """Add empty points, as many as there is room for."""
        for _ in range(FEWEST_POINTS):
            if len(self.points) < records.MOST_POINTS:
                self.points.append_entry()


def _values(row: Spring | None) -> dict[str, Any]:
    if row is None:
        return {}
    values: dict[str, Any] = {name: getattr(row, name) for name in records.FIELDS}
    values["points"] = [
        {name: getattr(point, name) for name in records.POINT} for point in row.points
    ]
    return values
