"""Gain by step of a head's job, port by port."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from shopflow import set_up_words
from shopflow.calc.reduction import Reduction
from shopflow.calc.set_up import differing
from shopflow.calc.worth import Step, Worth, worth
from shopflow.errors import NotFoundError
from shopflow.models import BenchSession, Visit
from shopflow.services.bench import metal_cuts, sessions, test_names
from shopflow.services.bench.metal_cuts import Cuts
from shopflow.texts import gettext, translated


@dataclass(frozen=True)
class PortWorth:
    """The sessions of one port in order, and what each gained over the one before."""

    side: str
    cylinder: str
    rows: tuple[BenchSession, ...]
    curves: tuple[Reduction, ...]
    cuts: tuple[Cuts, ...]
    """For each session after the first, all that was cut since the one before."""

    all_cuts: Cuts
    """From the first session to the last."""

    worth: Worth | None
    """None where the sessions have no lifts in common."""

    @property
    def reasons(self) -> list[str]:
        """Reasons why steps have no verdict, where the set-ups withhold it."""
        set_ups = [curve.test.set_up for curve in self.curves]
        return set_up_words.reasons(differing(set_ups))

    @property
    def title(self) -> str:
        """The port in words."""
        side = translated(self.side).capitalize()
        return (
            gettext("{side}, cylinder {cylinder}", side=side, cylinder=self.cylinder)
            if self.cylinder
            else side
        )

    @property
    def names(self) -> tuple[str, ...]:
        """Each session's stage, or what it followed."""
        return tuple(map(test_names.stage_name, self.rows))


@dataclass(frozen=True)
class PartGain:
    """One test of a port against another, over one part of the lift."""

    before: int
    after: int
    """Places of the two among the port's tests, from 0."""

    step: Step
    cuts: Cuts
    """All that was cut between the two."""


def part_gain(port: PortWorth, after: int, part: str) -> PartGain:
    """A port's test against the one before it, or with 0 the last one against the first.

    Raises NotFoundError for a test or part of the lift that the port has not.
    """
    last = len(port.rows) - 1
    if port.worth is None or not 0 <= after <= last:
        raise NotFoundError(gettext("that port does not have that step"))
    steps = port.worth.steps[after - 1] if after else port.worth.total
    for step in steps:
        if step.part.name == part:
            cuts = port.cuts[after - 1] if after else port.all_cuts
            return PartGain(after - 1 if after else 0, after or last, step, cuts)
    raise NotFoundError(gettext("that port was not tested over that part of the lift"))


def of_head(visit: Visit) -> list[PortWorth]:
    """Every port of a head that was tested more than once."""
    ports: dict[tuple[str, str], list[BenchSession]] = {}
    for row in visit.sessions:
        ports.setdefault((row.side, row.cylinder), []).append(row)
    return [
        _port(side, cylinder, rows) for (side, cylinder), rows in ports.items() if len(rows) > 1
    ]


def _port(side: str, cylinder: str, rows: list[BenchSession]) -> PortWorth:
    curves = tuple(map(sessions.reduction, rows))
    return PortWorth(
        side=side,
        cylinder=cylinder,
        rows=tuple(rows),
        curves=curves,
        cuts=tuple(metal_cuts.between(*pair) for pair in pairwise(rows)),
        all_cuts=metal_cuts.between(rows[0], rows[-1]),
        worth=worth(curves),
    )
