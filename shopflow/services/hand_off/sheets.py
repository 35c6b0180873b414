"""A head's hand-off sheet for the assembler."""

from __future__ import annotations

from collections.abc import Iterable

from sqlalchemy.orm import Session

from shopflow import documents
from shopflow.errors import NotFoundError, RuleError
from shopflow.models import HandOffNote, Measurement, Visit, When
from shopflow.services.hand_off import by_valve, chambers, spring_setup
from shopflow.services.hand_off.engine_figures import MISSING, engine_figures
from shopflow.services.hand_off.seat_ranges import seat_figures
from shopflow.services.measuring import limit_checks
from shopflow.services.paperwork import facts, seat_sheets
from shopflow.services.routing.work_orders import measured, tested
from shopflow.services.springs import sheets as spring_sheets
from shopflow.services.springs.seat_loads import SIDES
from shopflow.texts import gettext, spoken

WANTED = frozenset({
    "head thickness", "deck flatness", "deck cut", "bolt hole condition", "thread condition",
})  # fmt: skip
"""Codes of what the assembler wants beside what is measured at each valve."""


def hand_off(db: Session, visit: Visit) -> documents.HandOff:
    """A head's hand-off sheet. Raises NotFoundError without a note, RuleError without figures."""
    note = visit.hand_off
    if note is None:
        raise NotFoundError(gettext("{visit} has no hand-off note yet", visit=visit.tag))
    if not note.has_figures:
        raise RuleError(
            gettext(
                "the hand-off note of {visit} has no values yet: enter them before you print it",
                visit=visit.tag,
            )
        )
    display = facts.display(db, visit.job.customer)
    with spoken(display.language):
        springs = {side: spring_sheets.side(db, visit, side, display.units) for side in SIDES}
        return documents.HandOff(
            shop=facts.letterhead(db),
            display=display,
            job=facts.job_facts(db, visit.job),
            customer=facts.party(visit.job),
            head=facts.identity(visit),
            addressee=note.addressee,
            valves=tuple(
                spring_setup.side_figures(valve, display.units, springs[valve.side])
                for valve in note.valves
            ),
            figures=(
                *seat_figures(visit),
                *(
                    figure
                    for figure in engine_figures(db, note, display.units)
                    if figure.value != str(MISSING)
                ),
                *(documents.Figure(row.name, row.value, row.working) for row in note.figures),
            ),
            measured=tuple(
                measured(row)
                for row in limit_checks.latest(visit.measurements)
                if _for_assembler(visit, row)
            ),
            by_valve=by_valve.by_valve(db, visit),
            to_check=_lines(note.to_check),
            cautions=_lines(note.cautions),
            notes=note.notes,
            signed_by=_signer(note),
            signed_at=note.signed_at,
            written_at=note.written_at,
            tested=tuple(
                tested(row, display) for row in limit_checks.latest_tests(visit.integrity_tests)
            ),
            seats=seat_sheets.of_visit(visit, When.AFTER, display.units),
            remaining=tuple(step.kind.name for step in visit.operations if step.is_open),
            done=tuple(dict.fromkeys(step.kind.name for step in visit.operations if step.is_done)),
            springs_to_check=_springs_to_check(springs.values()),
            boosted=visit.job.is_boosted,
            springs=tuple(side for side in springs.values() if side.is_known),
            chambers=chambers.of_head(db, visit),
        )


def _for_assembler(visit: Visit, row: Measurement) -> bool:
    """True of what was measured after the work and stands in no other table of the sheet."""
    if row.when is not When.AFTER or row.kind.code not in {*WANTED, *by_valve.KINDS}:
        return False
    return not (by_valve.is_in_it(visit, row.kind.code) and row.place_found and not row.place)


def _springs_to_check(sides: Iterable[documents.SpringSide]) -> str:
    """Sentence on the valves whose springs nobody measured; empty where all are measured."""
    valves = [valve for side in sides if side.is_known for valve in side.each if valve.is_named]
    missing = sum(not valve.installed_height for valve in valves)
    if not missing:
        return ""
    return gettext(
        "Springs of {missing} of {count} valves not measured. Check every spring.",
        missing=missing,
        count=len(valves),
    )


def _signer(note: HandOffNote) -> str:
    return note.signed_by.name if note.signed_by else ""


def _lines(text: str) -> tuple[str, ...]:
    return tuple(line.strip() for line in text.splitlines() if line.strip())
