"""The forms of pressure, vacuum, leak and crack tests: one result, each valve's, a withdrawal."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from flask_wtf.file import FileField
from wtforms import FieldList, FormField
from wtforms import Form as PlainForm

from shopflow.errors import FieldError, ValidationError
from shopflow.models import (
    EngineType,
    HeadPlace,
    IntegrityKind,
    IntegrityPart,
    IntegrityTest,
    IntegrityVerdict,
    JobFile,
    Visit,
)
from shopflow.services.measuring.integrity_tests import CONDITIONS, NEEDED, PLACE
from shopflow.services.registry.attachments import Upload
from shopflow.texts import gettext, lazy
from shopflow.units import pretty, units_of
from shopflow.web.context import system
from shopflow.web.fields import ChoiceField, CountField, QuantityField, TypedField
from shopflow.web.forms import EditForm, Form
from shopflow.web.measuring.measurements.forms import SIDES, with_unit

PARTS = {
    IntegrityPart.HEAD.value: lazy("Whole head"),
    IntegrityPart.CYLINDER.value: lazy("Cylinder"),
    IntegrityPart.PORT.value: lazy("Port"),
    IntegrityPart.VALVE.value: lazy("Valve and seat"),
    IntegrityPart.GUIDE.value: lazy("Guide"),
    IntegrityPart.REGION.value: lazy("Region, in words"),
}
VERDICTS = {
    IntegrityVerdict.PASSED.value: lazy("Passed"),
    IntegrityVerdict.WATCH.value: lazy("Passed, watch it"),
    IntegrityVerdict.REPAIRABLE.value: lazy("Repairable"),
    IntegrityVerdict.FAILED.value: lazy("Failed"),
}
METHODS: dict[IntegrityKind, tuple[str, ...]] = {
    IntegrityKind.PRESSURE: (lazy("plates, filled with water"), lazy("plates, air under water")),
    IntegrityKind.VACUUM: (lazy("cup on the port"), lazy("cup on the chamber")),
    IntegrityKind.LEAK: (
        lazy("poured into the port"),
        lazy("poured into the chamber"),
        lazy("regulated air"),
    ),
    IntegrityKind.CRACK: (
        lazy("dye penetrant"),
        lazy("fluorescent penetrant"),
        lazy("magnetic particles, dry"),
        lazy("magnetic particles, wet fluorescent"),
        lazy("eddy current"),
        lazy("ultrasonic"),
    ),
}
"""Usual methods, offered while typing; common practice, no source."""

MEDIUM = {
    IntegrityKind.PRESSURE: lazy("For example water, or air under water."),
    IntegrityKind.VACUUM: lazy("For example air."),
    IntegrityKind.LEAK: lazy("For example solvent."),
    IntegrityKind.CRACK: "",
}


def verdicts(*, is_limited: bool) -> dict[str, str]:
    """Verdicts to choose from; where limits can propose one, theirs may be taken."""
    first = gettext("As the limits propose") if is_limited else gettext("Choose")
    return {"": first} | {value: str(words) for value, words in VERDICTS.items()}


def usual_method(kind: IntegrityKind) -> str:
    """Hint of the method's field."""
    return gettext("For example {method}.", method=METHODS[kind][0])


class IntegrityTestForm(EditForm):
    """The place of a test, its conditions and its verdict."""

    part = ChoiceField(lazy("Part tested"), PARTS)
    cylinder = CountField(lazy("Cylinder"), least=1)
    side = ChoiceField(lazy("Side"), SIDES)
    valve = ChoiceField(lazy("Valve"), {})
    place = TypedField(lazy("Region (optional)"), lazy("For example bolt holes of cylinder 2."))
    method = TypedField(lazy("Method (optional)"), render_kw={"list": "methods"})
    medium = TypedField(lazy("Medium"))
    pressure = QuantityField(
        lazy("Pressure"), "pressure", lazy("For example 40 psi."), needs_unit=True
    )
    duration = QuantityField(lazy("Time held"), "time", lazy("For example 10 min."))
    drop = QuantityField(
        lazy("Drop (optional)"), "pressure", lazy("For example 0.5 psi."), needs_unit=True
    )
    volume = QuantityField(
        lazy("Air volume (optional)"),
        "volume",
        lazy("Shut in, without the water. For example 2 L."),
    )
    temperature = QuantityField(
        lazy("Temperature, if hot (optional)"), "temperature", lazy("For example 180 degF.")
    )
    result = ChoiceField(lazy("Verdict"), {})
    spot = TypedField(
        lazy("Where exactly (optional)"), lazy("For example between the seats, to the bolt hole.")
    )
    notes = TypedField(lazy("Note (optional)"))
    photo_id = ChoiceField(lazy("Photo on record (optional)"), {})
    photo = FileField(
        lazy("New photo (optional)"),
        description=lazy("JPEG, PNG or WebP; 25 MB at most."),
        render_kw={"accept": "image/*"},
    )
    reason = TypedField(
        lazy("Reason for the correction"), lazy("For example gauge misread."), needed=True
    )

    @classmethod
    def of(
        cls,
        kind: IntegrityKind,
        visit: Visit,
        photos: Sequence[JobFile],
        row: IntegrityTest | None = None,
        *,
        is_limited: bool = False,
    ) -> IntegrityTestForm:
        """The form for a kind of test of a head, filled from a result where there is one."""
        names = (*PLACE, *CONDITIONS, "spot", "notes", "photo_id", "version")
        start: dict[str, Any] = {name: getattr(row, name) for name in names} if row else {}
        if row is None:
            start = {"part": IntegrityPart.HEAD.value}
        else:
            start |= {"result": row.result, "photo_id": str(row.photo_id or "")}
            start["valve"] = _valve_name(visit.head.engine_type, row)
        form = cls(data=start)
        form._fit(kind, visit.head.engine_type)
        form.result.choices = verdicts(is_limited=is_limited and row is None)
        form.result.flags.required = not is_limited
        form.photo_id.choices = {"": gettext("None")} | {
            str(photo.id): photo.title for photo in photos
        }
        if not photos:
            del form.photo_id
        if row is None:
            del form.reason
        return form

    def _fit(self, kind: IntegrityKind, engine_type: EngineType) -> None:
        """Leave the fields that the kind of test has, and the valves that the head has."""
        self.medium.description = str(MEDIUM[kind])
        self.method.description = usual_method(kind)
        names = engine_type.named_valves
        self.valve.choices = {"": gettext("Not chosen")} | {
            name: name.capitalize() for name in names
        }
        if not names:
            del self.valve
        if kind is IntegrityKind.VACUUM:
            self.pressure.label.text, self.pressure.description = (
                gettext("Vacuum"),
                gettext("For example 20 inHg."),
            )
            self.drop.description = gettext("For example 1 inHg.")
        if kind is IntegrityKind.CRACK:
            del self.medium, self.pressure, self.duration, self.drop, self.volume
        for name in NEEDED[kind]:
            self[name].flags.required = True
            self[name].label.text = self[name].label.text.removesuffix(gettext(" (optional)"))

    @property
    def values(self) -> dict[str, Any]:
        """Typed values, without the photo chosen from the disk and the reason."""
        return {n: v for n, v in super().values.items() if n not in ("photo", "reason")}

    @property
    def upload(self) -> Upload | None:
        """The photo uploaded; a browser sends one without a name where none was chosen."""
        file = self.photo.data
        return Upload(file.filename, file.read()) if file and file.filename else None


def _valve_name(engine_type: EngineType, row: IntegrityTest) -> str:
    names = engine_type.valve_names(row.side) if row.valve else []
    return names[row.valve - 1] if row.valve and row.valve <= len(names) else ""


class ValveRow(PlainForm):
    """One valve: its value, its verdict and where it leaks."""

    value = TypedField(lazy("Value"), render_kw={"inputmode": "decimal"})
    result = ChoiceField(lazy("Verdict"), {})
    spot = TypedField(lazy("Where exactly"))


class ValvesForm(Form):
    """A test of every valve, a row each; a bare number is in the unit chosen."""

    method = TypedField(lazy("Method (optional)"), render_kw={"list": "methods"})
    medium = TypedField(lazy("Medium"), needed=True)
    duration = QuantityField(lazy("Time held"), "time", lazy("For example 30 s."), needed=True)
    unit = ChoiceField(lazy("Values in"), {})
    rows = FieldList(FormField(ValveRow))

    places: list[HeadPlace]
    measured: str
    """The field of a test that a row's value is."""

    @classmethod
    def of(cls, kind: IntegrityKind, places: list[HeadPlace], *, is_limited: bool) -> ValvesForm:
        """The form for the valves of a head, values in the unit the shop reads."""
        is_vacuum = kind is IntegrityKind.VACUUM
        start = {"unit": system().unit("air pressure" if is_vacuum else "boost")}
        if is_vacuum:
            start["medium"] = "air"
        form = cls(data=start)
        form.places, form.measured = places, "pressure" if is_vacuum else "drop"
        form.medium.description = str(MEDIUM[kind])
        form.method.description = usual_method(kind)
        form.unit.choices = {unit: pretty(unit) for unit in units_of("pressure")}
        while len(form.rows) < len(places):
            form.rows.append_entry()
        for entry in form.rows:
            entry.form.result.choices = list(verdicts(is_limited=is_limited).items())
        return form

    @property
    def shared_values(self) -> dict[str, Any]:
        """Values that all valves share."""
        return {name: self[name].data for name in ("method", "medium", "duration")}

    @property
    def row_values(self) -> dict[int, dict[str, Any]]:
        """The valves in whose row something is entered, by its index."""
        rows: dict[int, dict[str, Any]] = {}
        for index, (place, entry) in enumerate(zip(self.places, self.rows, strict=False)):
            typed = entry.form
            if any((field.data or "").strip() for field in typed):
                rows[index] = {
                    "cylinder": place.cylinder,
                    "side": place.side,
                    "valve": str(place.valve),
                    self.measured: with_unit(typed.value.data, self.unit.data),
                    "result": typed.result.data,
                    "spot": typed.spot.data,
                }
        return rows

    def at_fields(self, error: ValidationError) -> ValidationError:
        """Faults of the valves, at the fields they were typed in."""
        return ValidationError(
            [
                FieldError(fault.key.replace(f"-{self.measured}", "-value"), fault.message)
                for fault in error.faults
            ]
        )


class WithdrawForm(Form):
    """Reason why a test no longer counts."""

    reason = TypedField(
        lazy("Reason"), lazy("For example gasket of the plate leaked."), needed=True
    )
