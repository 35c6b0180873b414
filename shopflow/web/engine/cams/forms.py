"""The forms of a cam: typed field by field, or uploaded as a file."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from flask_wtf.file import FileField
from werkzeug.datastructures import FileStorage
from wtforms import Form as Fields
from wtforms import FormField

from shopflow import camfile
from shopflow.camfile import CamDocument, LobeDocument
from shopflow.camfile.keys import LIFT_UNITS, SIDES
from shopflow.errors import FieldError, ValidationError
from shopflow.models import Cam
from shopflow.services.engine import cam_entry, cams
from shopflow.services.engine.cams import Owner
from shopflow.testfile.toml_text import LARGEST_FILE
from shopflow.texts import gettext, lazy
from shopflow.web.fields import ChoiceField, DecimalField, QuantityField, TypedField, WordsField
from shopflow.web.forms import EditForm, Form

SELDOM = (
    "rod_length", "compression_ratio", "intake_temperature", "intake_pressure", "exhaust_pressure",
)  # fmt: skip


class LobeForm(Fields):
    """One side's lobe, measured or by duration and lift."""

    centreline = TypedField(
        lazy("Centerline, crank degrees"),
        lazy(
            "After top dead center of the overlap on the intake, before it on the exhaust. For "
            "example "
            "108."
        ),
    )
    lobe = WordsField(
        lazy("Measured lobe"),
        lazy(
            "Crank degrees from the centerline and lobe lift, one pair a line, lift 0 at both "
            "ends. "
            "Paste two columns of a spreadsheet, or type them. For example -120 0."
        ),
        rows=8,
    )
    table = FileField(
        lazy("CSV file (optional)"),
        description=lazy("The same two columns as a file; read in place of what is typed above."),
        render_kw={"accept": ".csv,.txt,text/csv,text/plain"},
    )
    lift_unit = ChoiceField(lazy("Unit of the lifts"), {unit: unit for unit in LIFT_UNITS})
    duration = TypedField(
        lazy("Duration, crank degrees"), lazy("Between zero lifts. For example 280.")
    )
    max_lobe_lift = QuantityField(
        lazy("Greatest lobe lift"), "length", lazy("For example 8.2 mm or 0.320 in.")
    )
    rocker_ratio = DecimalField(lazy("Rocker ratio (optional)"), lazy("1 where left empty."))
    lash = QuantityField(
        lazy("Lash at the valve (optional)"), "length", lazy("For example 0.25 mm or 0.010 in.")
    )

    def process(self, *arguments: Any, **options: Any) -> None:
        """Read the fields, and the measured lobe from its file where one was chosen."""
        super().process(*arguments, **options)
        upload = self.table.data
        if isinstance(upload, FileStorage) and upload.filename:
            self.lobe.data = _text_of(upload.stream.read(LARGEST_FILE))


def _text_of(content: bytes) -> str:
    """A spreadsheet's text, in UTF-8 or as older ones of its makers write it."""
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252", errors="replace")


class CamForm(EditForm):
    """A cam with the engine it turns in."""

    name = TypedField(lazy("Name"), lazy("For example Street, 280 degrees."), needed=True)
    bore = QuantityField(
        lazy("Bore"), "length", lazy("For example 80.5 mm or 4.060 in."), needed=True
    )
    stroke = QuantityField(
        lazy("Stroke"), "length", lazy("For example 88.0 mm or 3.300 in."), needed=True
    )
    speed = TypedField(lazy("Engine speed, rpm"), lazy("For example 6500."), needed=True)
    rod_length = QuantityField(
        lazy("Connecting rod (optional)"), "length", lazy("Center to center.")
    )
    compression_ratio = DecimalField(
        lazy("Compression ratio (optional)"), lazy("For example 10.5.")
    )
    intake_temperature = QuantityField(
        lazy("Intake air temperature (optional)"),
        "temperature",
        lazy("For example 25 degC or 80 degF."),
    )
    intake_pressure = QuantityField(
        lazy("Intake pressure (optional)"),
        "pressure",
        lazy("Absolute. For example 100 kPa."),
        kind="air pressure",
    )
    exhaust_pressure = QuantityField(
        lazy("Exhaust pressure (optional)"),
        "pressure",
        lazy("Absolute. For example 105 kPa."),
        kind="air pressure",
    )
    intake = FormField(LobeForm, lazy("Intake"))
    exhaust = FormField(LobeForm, lazy("Exhaust"))
    notes = WordsField(lazy("Notes"))

    @classmethod
    def of_owner(cls, owner: Owner, lift_unit: str) -> CamForm:
        """An empty form, but for what is known of the engine."""
        units = {side: {"lift_unit": lift_unit} for side in SIDES}
        return cls(data={**cams.engine_of(owner), **units})

    @classmethod
    def over(cls, row: Cam, lift_unit: str) -> CamForm:
        """The form filled from a cam."""
        cam = cams.document(row)
        fields = [field.name for field in cls(formdata=None)]
        values = {name: getattr(row, name) for name in fields if hasattr(row, name)}
        lobes = {
            side: _values(lobe) if (lobe := getattr(cam, side)) else {"lift_unit": lift_unit}
            for side in SIDES
        }
        return cls(data={**values, **lobes, "version": str(row.version)})

    @property
    def has_more(self) -> bool:
        """Tell whether any of what is seldom entered was."""
        return any(self[name].data for name in SELDOM)

    def read(self) -> CamDocument:
        """The cam as typed. Raises ValidationError at these fields."""
        return cam_entry.read(self.values)


def _values(lobe: LobeDocument) -> dict[str, Any]:
    return {
        "centreline": lobe.centreline.number,
        "lobe": cam_entry.lobe_text(lobe),
        "lift_unit": lobe.lift_unit,
        "duration": lobe.duration and lobe.duration.number,
        "max_lobe_lift": lobe.max_lobe_lift,
        "rocker_ratio": lobe.rocker_ratio,
        "lash": lobe.lash,
    }


class UploadForm(Form):
    """A cam file."""

    refusal = lazy("Not uploaded yet.")

    file = FileField(lazy("Cam file"), description=lazy("As downloaded from a cam. TOML."))

    def read(self) -> CamDocument:
        """The cam in the file. Raises ValidationError at the file's keys."""
        upload = self.file.data
        if not upload:
            raise ValidationError([FieldError("", gettext("no file chosen: choose one"))])
        return camfile.loads(upload.stream.read(LARGEST_FILE + 1))

    @contextmanager
    def faults_at_file(self) -> Iterator[None]:
        """Turn faults of what is in the file into faults of the field."""
        try:
            yield
        except ValidationError as error:
            faults = [FieldError("file", str(fault)) for fault in error.faults]
            raise ValidationError(faults) from None
