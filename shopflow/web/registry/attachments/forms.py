"""The forms of files."""

from __future__ import annotations

from typing import Any

from flask_wtf.file import MultipleFileField
from wtforms import BooleanField

from shopflow.models import Job, Visit
from shopflow.services.registry.attachments import Upload
from shopflow.texts import gettext, lazy
from shopflow.web.fields import ChoiceField, TypedField
from shopflow.web.forms import EditForm, Form

SHOWN = lazy("Show to the customer on private links")
WHOLE_JOB = ""


class AddFilesForm(Form):
    """Photos and documents to keep."""

    camera = MultipleFileField(
        lazy("Take a photo"), render_kw={"accept": "image/*", "capture": True}
    )
    files = MultipleFileField(
        lazy("Photos and documents"),
        description=lazy(
            "Choose one or more. JPEG, PNG or WebP photos, PDF, plain text, STL or PLY scans; "
            "25 MB each."
        ),
        render_kw={
            "accept": "image/jpeg,image/png,image/webp,application/pdf,text/plain,.stl,.ply"
        },
    )
    of = ChoiceField(lazy("Subject"), {})
    caption = TypedField(
        lazy("Caption (optional)"), lazy("For example crack by the exhaust seat of cylinder 2.")
    )
    shown_to_customer = BooleanField(SHOWN)

    @classmethod
    def on(cls, job: Job, tag: str) -> AddFilesForm:
        """The form for a job, one of its heads chosen where its tag is given."""
        form = cls(data={"of": tag})
        heads = {visit.tag: gettext("Head {visit}", visit=visit.tag) for visit in job.heads}
        form.of.choices = heads | {WHOLE_JOB: gettext("The whole job")}
        return form

    def visit(self, job: Job) -> Visit | None:
        """The head chosen; none for the job as a whole."""
        return next((visit for visit in job.heads if visit.tag == self.of.data), None)

    @property
    def file_values(self) -> dict[str, Any]:
        """Caption of the files, and whether the customer sees them."""
        return {"caption": self.caption.data, "shown_to_customer": self.shown_to_customer.data}

    @property
    def uploads(self) -> list[Upload]:
        """Uploaded files; a browser sends one without a name where none was chosen."""
        files = [*(self.camera.data or []), *(self.files.data or [])]
        return [Upload(file.filename, file.read()) for file in files if file and file.filename]


class FileForm(EditForm):
    """Caption of a file, and whether the customer sees it."""

    caption = TypedField(lazy("Caption"))
    shown_to_customer = BooleanField(SHOWN)
