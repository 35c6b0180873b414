"""What each step of a head's job was worth, port by port."""

from __future__ import annotations

from dataclasses import dataclass

from shopflow.calc.worth import Worth, worth
from shopflow.models import BenchSession, JobHead
from shopflow.services import outcomes, sessions


@dataclass(frozen=True)
class PortWorth:
    """The sessions of one port in order, and what each gained over the one before."""

    side: str
    cylinder: str
    rows: tuple[BenchSession, ...]
    worth: Worth | None
    """None where the sessions have no lifts in common, or are stated at unlike pressures."""

    @property
    def title(self) -> str:
        """The port in words."""
        side = self.side.capitalize()
        return f"{side}, cylinder {self.cylinder}" if self.cylinder else side

    @property
    def names(self) -> tuple[str, ...]:
        """What was done before each session, or its stage."""
        return tuple(map(done_before, self.rows))


def of_head(stay: JobHead) -> list[PortWorth]:
    """Every port of a head that was tested more than once."""
    ports: dict[tuple[str, str], list[BenchSession]] = {}
    for row in stay.sessions:
        ports.setdefault((row.side, row.cylinder), []).append(row)
    return [
        PortWorth(side, cylinder, tuple(rows), _worth(rows))
        for (side, cylinder), rows in ports.items()
        if len(rows) > 1
    ]


def done_before(row: BenchSession) -> str:
    """The operation a session followed, or its stage."""
    step = row.after_operation
    return step.kind.name if step else outcomes.session_name(row)


def _worth(rows: list[BenchSession]) -> Worth | None:
    found = [sessions.reduction(row) for row in rows]
    if len({reduced.test.reference_pressure for reduced in found}) > 1:
        return None
    return worth(found)
