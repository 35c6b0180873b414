"""Party to act next on a head, and the standing of its promise."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from shopflow.models import JobState, WaitFor
from shopflow.services.planning.floor import FloorRow
from shopflow.texts import gettext


class Move(StrEnum):
    """Party that has to act next."""

    COUNTER = "counter"
    CUSTOMER = "customer"
    WORKSHOP = "workshop"
    SUPPLIER = "supplier"
    """Of parts, or of work done outside."""


@dataclass(frozen=True, slots=True)
class Standing:
    """A row of the floor with what is read off it."""

    row: FloorRow
    move: Move
    who: str
    """The one person, or those clocked on, whose move it is, where that is known."""

    days_left: int | None

    @property
    def people(self) -> list[str]:
        """Names of the shop's users clocked on to it."""
        return self.row.workers


def standing(row: FloorRow, today: date) -> Standing:
    """Standing of a head on a day."""
    promised = row.head.promised_on
    move = _move(row)
    return Standing(row, move, _who(row, move), (promised - today).days if promised else None)


def by_stand(rows: Iterable[Standing]) -> list[tuple[str, list[Standing]]]:
    """Rows by what is to be done next, in the order of a job's life; each group in its order."""
    groups: dict[str, list[Standing]] = {}
    for item in rows:
        groups.setdefault(_heading(item), []).append(item)
    return sorted(groups.items(), key=lambda group: min(map(_place_in_life, group[1])))


def _heading(item: Standing) -> str:
    if item.row.waits:
        return gettext("waiting for {wait_for}", wait_for=item.row.waits[0].wait_for.value)
    step = item.row.next_step
    return step.name if item.move is Move.WORKSHOP and step else item.row.where


def _place_in_life(item: Standing) -> tuple[int, int]:
    """To be quoted, waiting for approval, the operations in their order, standing still, done."""
    if item.row.waits:
        return 3, 0
    step = item.row.next_step
    if item.move is Move.WORKSHOP and step:
        return 2, step.position
    return {JobState.BOOKED_IN: 0, JobState.QUOTED: 1}.get(item.row.head.state, 4), 0


def _move(row: FloorRow) -> Move:
    if row.asks_customer:
        return Move.CUSTOMER
    if row.waits:
        # It stands still until what it has waited for longest is there.
        return Move.CUSTOMER if row.waits[0].wait_for is WaitFor.CUSTOMER else Move.SUPPLIER
    match row.head.state:
        case JobState.BOOKED_IN:
            return Move.COUNTER
        case JobState.QUOTED | JobState.READY:
            return Move.CUSTOMER
    if row.to_quote or not row.steps:
        return Move.COUNTER
    # What comes next is in the customer's hands, quoted and not approved yet.
    next_up = {extra.step_id for extra in row.extras} & {row.steps[0].id}
    return Move.CUSTOMER if next_up else Move.WORKSHOP


def _who(row: FloorRow, move: Move) -> str:
    if move is Move.CUSTOMER:
        return row.head.customer
    step = row.next_step
    if row.clocked_on or step is None or not step.is_begun or not step.started_by:
        return ", ".join(row.workers)
    return gettext("started by {started_by}", started_by=step.started_by)
