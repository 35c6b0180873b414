"""The form that chooses a flow test and changes sizes on paper; all of it is in the address."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from wtforms import FieldList

from shopflow.models import BenchSession
from shopflow.services.analysis import comparisons
from shopflow.services.engine import port_limit
from shopflow.services.engine.port_limit import CHANGEABLE, PortLimit
from shopflow.texts import gettext, lazy
from shopflow.units import pretty_text
from shopflow.web.fields import ChoiceField, QuantityField
from shopflow.web.filters import sentence
from shopflow.web.forms import Form


class PortLimitForm(Form):
    """A flow test, and the sizes of its port that are changed on paper; what is empty stays."""

    class Meta:
        """Nothing is changed by it, so nothing needs guarding."""

        csrf = False

    refusal = lazy("Not calculated.")

    test = ChoiceField(lazy("Flow test"), {})
    head_diameter = QuantityField(lazy("Valve head diameter"), "length")
    seat_angle = QuantityField(lazy("Seat angle"), "angle")
    seat_width = QuantityField(lazy("Seat width"), "length")
    throat_diameter = QuantityField(lazy("Throat diameter"), "length")
    stem_diameter = QuantityField(lazy("Stem diameter"), "length")
    areas = FieldList(QuantityField("", "area", kind="port area"))

    row: BenchSession
    """The test chosen."""

    @classmethod
    def from_query(cls, arguments: Any, rows: Sequence[BenchSession]) -> PortLimitForm:
        """The form with the values of an address; without a test, the suggested one."""
        form = cls(formdata=arguments)
        usual = port_limit.suggested(rows)
        named = dict(zip((str(row.id) for row in rows), comparisons.names(rows), strict=True))
        form.test.choices = {key: sentence(named[key]) for key in reversed(named)}
        form.test.data = arguments.get("test") or str(usual.id)
        form.row = next((row for row in rows if str(row.id) == form.test.data), usual)
        return form

    def name_sizes(self, limit: PortLimit) -> None:
        """Show each size as it is, and a field for each section."""
        for name in CHANGEABLE:
            self[name].description = _now(getattr(limit.row, name))
        sections = limit.section_places
        while len(self.areas) > len(sections):
            self.areas.pop_entry()
        while len(self.areas) < len(sections):
            self.areas.append_entry()
        for field, section in zip(self.areas, sections, strict=True):
            field.label.text, field.description = section.name, _now(section.size)

    @property
    def sizes(self) -> dict[str, str]:
        """Sizes of valve and seat that are changed, as typed with their units."""
        return {name: str(self[name].data).strip() for name in CHANGEABLE if _is_typed(self[name])}

    @property
    def new_areas(self) -> dict[int, str]:
        """Areas of sections that are changed, by their place among them."""
        return {
            index: str(field.data) for index, field in enumerate(self.areas) if _is_typed(field)
        }

    @property
    def is_changed(self) -> bool:
        """True where any size is changed."""
        return bool(self.sizes or self.new_areas)


def _is_typed(field: Any) -> bool:
    return bool(str(field.data or "").strip())


def _now(size: Any) -> str:
    return gettext("Now {size}.", size=pretty_text(size.text))
