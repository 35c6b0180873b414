"""The form that chooses a cam and flow tests; all of it is in the address."""

from __future__ import annotations

from typing import Any

from sqlalchemy.orm import Session

from shopflow.camfile import Side
from shopflow.models import Cam, Visit
from shopflow.services.engine import through_cam
from shopflow.services.engine.through_cam import SIDES, Chosen, Tests
from shopflow.texts import gettext, lazy
from shopflow.web.fields import ChoiceField
from shopflow.web.forms import Form


class ThroughCamForm(Form):
    """Choice of the cam that is drawn, and of the flow tests behind it."""

    class Meta:
        """Nothing is changed by it, so nothing needs guarding."""

        csrf = False

    refusal = lazy("Not shown as chosen.")

    cam = ChoiceField(lazy("Cam"), {})
    intake = ChoiceField(lazy("Intake test"), {})
    intake_before = ChoiceField(lazy("Compare intake with"), {})
    exhaust = ChoiceField(lazy("Exhaust test"), {})
    exhaust_before = ChoiceField(lazy("Compare exhaust with"), {})

    drawn: Cam | None = None
    """The cam chosen; none where the head has none."""

    tests: Tests

    @classmethod
    def from_query(cls, arguments: Any, db: Session, visit: Visit) -> ThroughCamForm:
        """The form with what the address has, and what that chooses.

        Where nothing is asked for: the job's own cam, and each side's last test against the first
        of its port.
        """
        form = cls(formdata=arguments)
        cams = through_cam.on_offer(db, visit)
        form.cam.choices = {str(cam.id): _named(cam) for cam in cams}
        form.cam.data = arguments.get("cam") or (str(cams[0].id) if cams else None)
        by_key = {str(cam.id): cam for cam in cams}
        form.drawn = by_key.get(form.cam.data or "", cams[0] if cams else None)
        is_asked = any(name in arguments for name in form.data)
        form.tests = {side: form._chosen(side, visit, arguments, is_asked) for side in SIDES}
        return form

    @property
    def asked_for(self) -> dict[str, str]:
        """The choice, for an address of the same."""
        return {name: str(value) for name, value in self.data.items() if value is not None}

    def _chosen(self, side: Side, visit: Visit, arguments: Any, is_asked: bool) -> Chosen:
        rows = through_cam.offered(visit, side)
        names = through_cam.names(rows)
        named = {str(row.id): name for row, name in zip(rows, names, strict=True)}
        usual = through_cam.suggested(visit, side)
        fields = {"after": self[side], "before": self[f"{side}_before"]}
        tests = {}
        for end, field in fields.items():
            field.choices = {"": gettext("None"), **named}
            standing = getattr(usual, end)
            key = str(standing.id) if standing else ""
            field.data = arguments.get(field.name, "") if is_asked else key
            tests[end] = next((row for row in rows if str(row.id) == field.data), None)
        same = tests["before"] is tests["after"]
        return Chosen(tests["after"], None if same or not tests["after"] else tests["before"])


def _named(cam: Cam) -> str:
    """Its name, and whether it is the customer's own."""
    return gettext("{cam} (this job)", cam=cam.name) if cam.job_id is not None else cam.name
