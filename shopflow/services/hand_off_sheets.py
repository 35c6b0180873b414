"""A head's hand-off sheet for the assembler."""

from __future__ import annotations

from sqlalchemy.orm import Session

from shopflow.errors import NotFoundError, RuleError
from shopflow.models import HandOffNote, JobHead, Measurement
from shopflow.papers import data
from shopflow.services import assembly, paper_facts, verdicts
from shopflow.services.engine_figures import engine_figures
from shopflow.services.seat_loads import is_boosted
from shopflow.services.work_orders import measured, tested


def hand_off(db: Session, stay: JobHead) -> data.HandOff:
    """A head's hand-off sheet. Raises NotFoundError without a note, RuleError without figures."""
    note = stay.hand_off
    if note is None:
        raise NotFoundError(f"{stay.tag} has no hand-off note yet")
    if not note.has_figures:
        raise RuleError(
            f"the hand-off note of {stay.tag} has no values yet: enter them before you print it"
        )
    units = paper_facts.display(db).units
    return data.HandOff(
        shop=paper_facts.letterhead(db),
        display=paper_facts.display(db),
        job=paper_facts.job_facts(db, stay.job),
        customer=paper_facts.party(stay.job),
        head=paper_facts.identity(stay),
        addressee=note.addressee,
        valves=tuple(assembly.side_figures(valve, units) for valve in note.valves),
        figures=(
            *engine_figures(note, units),
            *(data.Figure(row.name, row.value, row.working) for row in note.figures),
        ),
        measured=tuple(measured(row) for row in stay.measurements if _for_assembler(row)),
        to_check=_lines(note.to_check),
        cautions=_lines(note.cautions),
        notes=note.notes,
        signed_by=_signer(note),
        signed_at=note.signed_at,
        written_at=note.written_at,
        tested=tuple(
            tested(db, row)
            for step in stay.operations
            for row in verdicts.latest_tests(step.integrity_tests)
        ),
        remaining=tuple(step.kind.name for step in stay.operations if step.is_open),
        boosted=is_boosted(stay.job),
    )


def _for_assembler(row: Measurement) -> bool:
    wanted = {"installed height", "seat load", "chamber volume", "valve head diameter",
              "seat angle", "head thickness", "throat diameter"}  # fmt: skip
    return row.kind.code in wanted and row.when.value == "after"


def _signer(note: HandOffNote) -> str:
    return note.signed_by.name if note.signed_by else ""


def _lines(text: str) -> tuple[str, ...]:
    return tuple(line.strip() for line in text.splitlines() if line.strip())
