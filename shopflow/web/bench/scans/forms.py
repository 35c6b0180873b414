"""The forms of scans: the file, then how it is cut."""

from __future__ import annotations

import hashlib
from typing import Any

from flask_wtf.file import FileField
from wtforms import HiddenField, SubmitField

from shopflow.files.scans import LARGEST_SCAN, MOST_TRIANGLES
from shopflow.models import Datum
from shopflow.services.registry.attachments import Upload
from shopflow.texts import gettext, lazy
from shopflow.web.context import system
from shopflow.web.fields import ChoiceField, CountField, QuantityField, WordsField
from shopflow.web.forms import Form
from shopflow.web.measuring.measurements.forms import SIDES, WHENS

UNITS = {"": lazy("Not chosen"), "mm": lazy("Millimeters"), "in": lazy("Inches")}
FIRST_STEP = {"in": ("0.1", "0.5"), "mm": ("2", "10")}
"""First distance and step to begin with, in the shop's unit of length."""

SHOWN = ("unit", "side", "cylinder", "when", "datum", "center_line", "first", "step")
"""Fields that decide what a preview shows."""


class ScanForm(Form):
    """A scan to keep with a head."""

    scan = FileField(lazy("Scan of the port"), render_kw={"accept": ".stl,.ply"})
    add = SubmitField(lazy("Add scan"))

    @classmethod
    def new(cls) -> ScanForm:
        """The form, its hint with the limits."""
        form = cls()
        triangles = f"{MOST_TRIANGLES:,}"
        form.scan.description = gettext(
            "STL or PLY, at most {size} MB and {triangles} triangles.",
            size=LARGEST_SCAN // 2**20,
            triangles=triangles,
        )
        return form

    @property
    def upload(self) -> Upload | None:
        """The uploaded file; a browser sends one without a name where none was chosen."""
        file = self.scan.data
        return Upload(file.filename, file.read()) if file and file.filename else None


class CutForm(Form):
    """Cut of a scan, and the port it is of."""

    side = ChoiceField(lazy("Side"), {side: words for side, words in SIDES.items() if side})
    cylinder = CountField(lazy("Cylinder"), least=1)
    when = ChoiceField(lazy("Taken"), WHENS)
    unit = ChoiceField(lazy("Unit of the scan"), UNITS, needed=True)
    datum = ChoiceField(lazy("Center line starts at"), Datum)
    center_line = WordsField(
        lazy("Center line"),
        lazy(
            "Points along the middle of the port, one on each line: x y z in the unit of the scan. "
            "Left blank, it can be proposed."
        ),
        rows=9,
    )
    first = QuantityField(lazy("First section at"), "length")
    step = QuantityField(lazy("Then every"), "length")
    previewed = HiddenField()
    preview = SubmitField(lazy("Preview sections"))
    propose = SubmitField(lazy("Propose center line"))
    reverse = SubmitField(lazy("Reverse center line"))
    save = SubmitField(lazy("Save sections"))

    @classmethod
    def start(cls) -> CutForm:
        """The form with the usual distances."""
        first, step = FIRST_STEP[system().unit("length")]
        return cls(data={"first": first, "step": step})

    @property
    def cutting(self) -> dict[str, Any]:
        """The fields that decide how the scan is cut, as the service takes them."""
        values = {name: self[name].data for name in SHOWN}
        return values | {"cylinder": values["cylinder"] or None}

    @property
    def digest(self) -> str:
        """Code of those fields, by which a preview is told from a later one."""
        text = repr([str(self[name].data or "").split() for name in SHOWN])
        return hashlib.sha256(text.encode()).hexdigest()[:20]

    @property
    def is_previewed(self) -> bool:
        """True where the fields are those of the preview on the page."""
        return bool(self.previewed.data == self.digest)
