"""The form that chooses flow tests for a simulation; all of it is in the address."""

from __future__ import annotations

from typing import Any

from shopflow.models import BenchSession, Head
from shopflow.services.engine import for_simulation
from shopflow.texts import gettext, lazy
from shopflow.web.fields import TicksField
from shopflow.web.forms import Form


class SimulationForm(Form):
    """Choice of the flow tests that are written."""

    class Meta:
        """Nothing is changed by it, so nothing needs guarding."""

        csrf = False

    refusal = lazy("Not downloaded.")

    tests = TicksField(lazy("Flow tests"))

    rows: list[BenchSession]

    @classmethod
    def from_query(cls, arguments: Any, head: Head) -> SimulationForm:
        """The form with what the address has; where nothing is asked for, each port's last test."""
        form = cls(formdata=arguments)
        rows = for_simulation.offered(head)
        is_asked = "file" in arguments or "tests" in arguments
        ticked = {str(row.id) for row in for_simulation.suggested(head)}
        form.tests.choices = {str(row.id): for_simulation.name(row) for row in rows}
        form.tests.data = arguments.getlist("tests") if is_asked else sorted(ticked)
        form.rows = [row for row in rows if str(row.id) in form.tests.data]
        return form

    @property
    def has_tests(self) -> bool:
        """True where a test is chosen; else the form says so."""
        if not self.rows:
            self.tests.errors = [gettext("choose at least one flow test")]
        return bool(self.rows)
