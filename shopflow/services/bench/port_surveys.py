"""Surveys of ports: the sections of each by distance, before the work and after it."""

from __future__ import annotations

from collections.abc import Container, Mapping
from dataclasses import dataclass
from typing import Any

from shopflow.models import BenchSession, Datum, Measurement, Visit, When
from shopflow.services.bench.section_checks import KIND, SHAPE
from shopflow.services.bench.sizes import cut_between
from shopflow.texts import gettext, translated


@dataclass(frozen=True)
class Port:
    """A port whose sections are all measured from one datum."""

    side: str
    cylinder: int | None
    datum: Datum

    @property
    def key(self) -> str:
        """The port in an address, as "intake-2-valve-seat"."""
        return f"{self.side}-{self.cylinder or 'any'}-{self.datum.value.replace(' ', '-')}"

    @property
    def order(self) -> tuple[bool, int, int]:
        """Its place among a head's ports: intake first, then by cylinder."""
        return self.side != "intake", self.cylinder or 0, list(Datum).index(self.datum)

    @property
    def words(self) -> str:
        """The port in words, as "Intake, cylinder 2, by valve seat"."""
        words = {
            "side": translated(self.side).capitalize(),
            "datum": translated(self.datum.value),
        }
        if self.cylinder:
            return gettext(
                "{side}, cylinder {cylinder}, by {datum}", **words, cylinder=self.cylinder
            )
        return gettext("{side}, by {datum}", **words)

    def has(self, row: BenchSession) -> bool:
        """True where a flow test is of this port."""
        return row.side == self.side and row.cylinder.strip() == str(self.cylinder or "")


def ports(visit: Visit) -> list[Port]:
    """The ports of a head that have sections, intake first, then by cylinder."""
    distinct = {port for row in visit.measurements if (port := _port(row)) is not None}
    return sorted(distinct, key=lambda port: port.order)


def standing(row: BenchSession) -> list[Measurement]:
    """Sections of the port a flow test was made of, from its valve seat outwards, then those from
    its flange and those of its manifold: as the port was when it was tested."""
    rows: list[Measurement] = []
    for port in ports(row.job_head):
        if port.has(row):
            rows += _survey_at(row, port).values()
    return rows


def least_change(before: BenchSession, after: BenchSession) -> tuple[float, float] | None:
    """The least section of the port at each of two tests of it, m2, where the same were measured
    for both; none where they were not, or not again."""
    for port in ports(after.job_head):
        if port.datum is Datum.MANIFOLD or not (port.has(before) and port.has(after)):
            continue
        then, now = _survey_at(before, port), _survey_at(after, port)
        common = [
            (then[distance], section)
            for distance, section in now.items()
            if distance in then and then[distance] is not section
        ]
        if common:
            earlier, later = zip(*common, strict=True)
            return min(item.value.si for item in earlier), min(item.value.si for item in later)
    return None


def _survey_at(row: BenchSession, port: Port) -> dict[float, Measurement]:
    """Sections of a port as it was when it was tested."""
    surveys = surveys_of(row.job_head, port)
    return list(surveys.values())[0 if was_before(row, surveys) else -1] if surveys else {}


def along_head(row: BenchSession) -> list[Measurement]:
    """As `standing`, without the sections of the manifold."""
    return [section for section in standing(row) if section.datum is not Datum.MANIFOLD]


def _port(row: Measurement, codes: Container[str] = (KIND,)) -> Port | None:
    """The port a figure is a section of; none where it is no section."""
    if row.kind.code not in codes or row.datum is None or not row.side or row.value.si <= 0.0:
        return None
    return Port(row.side, row.cylinder, row.datum)


def surveys_of(visit: Visit, port: Port) -> dict[When, dict[float, Measurement]]:
    """Sections of a port before the work and after it, each where there are any."""
    return {when: survey for when in When if (survey := survey_of(visit, port, when))}


def recorded_distances(visit: Visit, port: Port, when: When) -> frozenset[float]:
    """Distances along a port at which a section is on record, m, to the nanometer."""
    return frozenset(survey_of(visit, port, when))


def survey_of(visit: Visit, port: Port, when: When, code: str = KIND) -> dict[float, Measurement]:
    """A kind's measurements along a port by distance; of one measured again the latest."""
    rows = [row for row in visit.measurements if row.when is when and _port(row, (code,)) == port]
    rows.sort(key=lambda row: (row.at, row.id))
    # To the nanometre, so that one inch and 25.4 mm are one place.
    by_distance = {round(row.distance.si, 9): row for row in rows if row.distance}
    return dict(sorted(by_distance.items()))


def outdated_by(row: BenchSession) -> str:
    """The step that cut metal between the sections of a test's port and the test; empty where none
    did."""
    visit = row.job_head
    surveys = [surveys_of(visit, port) for port in ports(visit) if port.has(row)]
    return next(filter(None, (step_between(visit, row, every) for every in surveys)), "")


def step_between(
    visit: Visit, row: BenchSession | None, surveys: Mapping[When, Mapping[float, Measurement]]
) -> str:
    """The step that cut metal between the sections shown and a test; empty where none did."""
    if row is None or row.job_head is not visit or not surveys:
        return ""
    visible = list(surveys.values())[0 if was_before(row, surveys) else -1]
    cut = cut_between(visit, max(visible.values(), key=lambda section: section.at), row)
    return cut.kind.name if cut is not None else ""


def was_before(row: BenchSession, surveys: Mapping[When, Mapping[float, Measurement]]) -> bool:
    """True where a test went through the port as it was before the work, and that is known."""
    if When.BEFORE not in surveys:
        return False
    tested = row.measured_at or row.entered_at
    later = [section.at for section in surveys.get(When.AFTER, {}).values()]
    return row.after_operation is None or any(tested < at for at in later)


def shapes_of(visit: Visit, port: Port, when: When) -> dict[float, dict[str, Any]]:
    """Measurements beside the areas along a port, by distance and field."""
    shapes: dict[float, dict[str, Any]] = {}
    for name, code in SHAPE.items():
        for distance, row in survey_of(visit, port, when, code).items():
            shapes.setdefault(distance, {})[name] = row.value.si
    return shapes
