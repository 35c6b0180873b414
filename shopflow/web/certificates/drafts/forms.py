"""The forms of drafts of certificates."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, ClassVar

from wtforms import SelectMultipleField, SubmitField
from wtforms.widgets import CheckboxInput, ListWidget

from shopflow.models import Baseline, BenchSession, CertificateDraft, Visit
from shopflow.services.bench.test_names import session_name
from shopflow.services.certificates import doubts, drafts
from shopflow.texts import gettext, lazy, translated
from shopflow.web.db import db
from shopflow.web.fields import ChoiceField, TypedField, WordsField
from shopflow.web.forms import EditForm

BASELINES = {
    Baseline.FIRST.value: lazy("The first test of the same port"),
    Baseline.PREVIOUS.value: lazy("The test before, of the same port"),
    Baseline.NONE.value: lazy("Nothing"),
}


class DraftForm(EditForm):
    """Flow tests that a certificate states, and the texts on them."""

    sessions = SelectMultipleField(
        lazy("Flow tests"),
        coerce=int,
        widget=ListWidget(prefix_label=False),
        option_widget=CheckboxInput(),
    )
    baseline = ChoiceField(lazy("Compare each later test with"), BASELINES)
    departures = WordsField(
        lazy("Changes from the standard method"),
        lazy(
            "If empty, the certificate says that none was recorded. Excluded readings are listed "
            "separately."
        ),
        rows=2,
    )
    opinions = WordsField(
        lazy("Opinions"),
        lazy("One per line. Printed apart from the results, as opinion."),
        rows=3,
    )
    identification = TypedField(
        lazy("Other identification"),
        lazy("If it has no casting number or serial. For example paint marks."),
    )
    sampling_reason = TypedField(
        lazy("Why these ports (optional)"),
        lazy("If not every port was tested. For example: the port with the lowest flow."),
    )
    cam_id = ChoiceField(
        lazy("Show through the cam"),
        {},
        lazy("Adds mean effective area over the time the cam holds the valves open."),
        coerce=lambda value: "" if value is None else str(value),
        default="",
    )
    keep = SubmitField(lazy("Save draft"))

    TEXTS: ClassVar[tuple[str, ...]] = (
        "baseline",
        "departures",
        "opinions",
        "identification",
        "sampling_reason",
        "cam_id",
    )

    @classmethod
    def of(cls, visit: Visit, draft: CertificateDraft | None = None) -> DraftForm:
        """The form over a head's sessions: as the draft has it, or every session ticked."""
        chosen = [link.session for link in draft.sessions] if draft else visit.sessions
        form = cls(obj=draft, data={"sessions": [row.id for row in chosen]})
        cams = {str(row.id): row.name for row in drafts.cams_offered(db(), visit, draft)}
        form.cam_id.choices = {"": gettext("No"), **cams}
        if not cams:
            del form.cam_id
        form.sessions.choices = {
            row.id: f"{translated(row.side).capitalize()}: {session_name(row)}"
            for row in visit.sessions
        }
        form.sessions.object_data = [row.id for row in chosen]
        if not form.is_submitted():
            form.sessions.data = form.sessions.object_data
        return form

    def chosen(self, visit: Visit) -> list[BenchSession]:
        """The sessions ticked."""
        return [row for row in visit.sessions if row.id in (self.sessions.data or [])]

    @property
    def texts(self) -> dict[str, Any]:
        """Texts on the tests."""
        return {name: self.data[name] or "" for name in self.TEXTS if name in self}


class CorrectionForm(DraftForm):
    """A new revision, with what it corrects."""

    reason = WordsField(lazy("What is corrected, and why"), needed=True)

    TEXTS: ClassVar[tuple[str, ...]] = ("reason", *DraftForm.TEXTS)


class CheckForm(EditForm):
    """That a draft was checked."""

    statement = WordsField(lazy("How it was checked, and against what"), rows=2)


def check_form(draft: CertificateDraft, doubtful: Sequence[str]) -> CheckForm:
    """The form with an answer to each doubt, at first what was answered before."""
    fields = {
        doubts.key(doubt): WordsField(doubt, default=draft.answers.get(doubt, ""), rows=2)
        for doubt in doubtful
    }
    form: CheckForm = type(CheckForm.__name__, (CheckForm,), fields)(obj=draft)
    return form
