"""Gain of a head since it was stock, over all its visits."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from shopflow.models import BenchSession, Head
from shopflow.services.analysis import gains
from shopflow.services.analysis.gains import Gain
from shopflow.services.bench import metal_cuts, set_ups, test_names
from shopflow.services.bench.metal_cuts import Cuts
from shopflow.services.registry.castings import visits_in_order


@dataclass(frozen=True)
class SinceStock:
    """A port's first test as cast and its latest test, whatever visits they were made on."""

    stock: BenchSession
    latest: BenchSession
    cuts: Cuts
    """All that was cut between the two, on every visit."""

    gain: Gain | None
    """In mean effective area; None where the two share no lifts, or stood on unlike set-ups."""

    @property
    def is_unlike(self) -> bool:
        """True where the two stood on unlike set-ups, and nobody confirmed it as meant."""
        pair = self.stock, self.latest
        return bool(set_ups.unlike(*pair)) and set_ups.confirmation(*pair) is None


def since_stock(head: Head) -> list[SinceStock]:
    """Every port with a test as cast and a later one, the intakes first."""
    ports: dict[tuple[str, str], list[BenchSession]] = {}
    for visit in visits_in_order(head):
        for row in visit.sessions:
            ports.setdefault((row.side, row.cylinder), []).append(row)
    pairs = []
    for rows in ports.values():
        rows.sort(key=_tested)
        index = next((index for index, row in enumerate(rows) if test_names.is_stock(row)), None)
        if index is not None and rows[-1] is not rows[index]:
            pairs.append((rows[index], rows[-1]))
    pairs.sort(key=lambda pair: (pair[0].side != "intake", pair[0].cylinder))
    return [SinceStock(*pair, metal_cuts.between(*pair), gains.between(*pair)) for pair in pairs]


def _tested(row: BenchSession) -> tuple[datetime, int]:
    return row.measured_at or row.entered_at, row.id
