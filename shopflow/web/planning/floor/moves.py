"""Party to act next on a head, and the standing of its promise."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from shopflow.models import JobState
from shopflow.services.planning.floor import FloorRow
from shopflow.services.planning.next_act import Party
from shopflow.texts import gettext


@dataclass(frozen=True, slots=True)
class Standing:
    """A row of the floor with what is read off it."""

    row: FloorRow
    move: Party
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
    move = row.acts[0].party if row.acts else Party.WORKSHOP
    return Standing(row, move, _who(row, move), (promised - today).days if promised else None)


def by_stand(rows: Iterable[Standing]) -> list[tuple[str, list[Standing]]]:
    """Rows by what is to be done next, in the order of a job's life; each group in its order."""
    groups: dict[str, list[Standing]] = {}
    for item in rows:
        groups.setdefault(_heading(item), []).append(item)
    return sorted(groups.items(), key=lambda group: min(map(_place_in_life, group[1])))


def _heading(item: Standing) -> str:
    if item.row.waits:
        return gettext("waiting for {wait_for}", wait_for=item.row.waits[0].wait_for)
    step = item.row.next_step
    return step.name if item.move is Party.WORKSHOP and step else item.row.where


def _place_in_life(item: Standing) -> tuple[int, int]:
    """To be quoted, waiting for approval, the operations in their order, standing still, done."""
    if item.row.waits:
        return 3, 0
    step = item.row.next_step
    if item.move is Party.WORKSHOP and step:
        return 2, step.position
    return {JobState.BOOKED_IN: 0, JobState.QUOTED: 1}.get(item.row.head.state, 4), 0


def _who(row: FloorRow, move: Party) -> str:
    if move is Party.CUSTOMER:
        return row.head.customer
    step = row.next_step
    if row.clocked_on or step is None or not step.is_begun or not step.started_by:
        return ", ".join(row.workers)
    return gettext("started by {started_by}", started_by=step.started_by)
