"""Past cases of the shop, as forecasts take them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.calc.forecast import Case, Forecast, forecast
from shopflow.calc.worth import WHOLE
from shopflow.models import GainCase, Head, Visit

MOST = 4_000
"""Latest cases read for a page; a busy shop has more of them than tell anything new."""

Key = tuple[str, str, str]
"""Steps, side and part of the lift."""


@dataclass(frozen=True, slots=True)
class PastCase:
    """A head's gain by a set of steps, on a visit."""

    key: Key
    visit_id: int
    head_id: int
    engine_type_id: int
    saved_at: datetime
    log_gain: float
    standard_uncertainty: float
    expanded_uncertainty: float
    """Of the logarithm for 95 %."""

    @property
    def case(self) -> Case:
        """The case as the model takes it; its group is the engine type."""
        return Case(self.engine_type_id, self.log_gain, self.standard_uncertainty)


@dataclass(frozen=True)
class PastCases:
    """Past cases by steps, side and part, the earliest first."""

    by_key: dict[Key, list[PastCase]]

    def other_heads(self, key: Key, head_id: int | None = None) -> list[PastCase]:
        """Cases of heads but this one; a head counts once, with its first."""
        first: dict[int, PastCase] = {}
        for case in self.by_key.get(key, ()):
            if case.head_id != head_id:
                first.setdefault(case.head_id, case)
        return list(first.values())

    def forecast(self, key: Key, engine_type_id: int, head_id: int | None) -> Forecast | None:
        """The forecast of a head of an engine type, from all other heads."""
        cases = tuple(past.case for past in self.other_heads(key, head_id))
        return _forecast(cases, engine_type_id)


_forecast = lru_cache(maxsize=1024)(forecast)
"""Of equal cases the interval is the same one."""


def read(
    db: Session,
    steps: Collection[str],
    parts: Sequence[str] = (WHOLE,),
    before: datetime | None = None,
) -> PastCases:
    """Cases of these sets of steps, in one statement; only those saved before a moment where one is
    given."""
    by_key: defaultdict[Key, list[PastCase]] = defaultdict(list)
    if not steps:
        return PastCases(by_key)
    query = (
        select(
            GainCase.steps, GainCase.side, GainCase.part, GainCase.job_head_id, Visit.head_id,
            Head.engine_type_id, GainCase.saved_at, GainCase.log_gain,
            GainCase.standard_uncertainty, GainCase.expanded_uncertainty,
        )
        .join(Visit, GainCase.job_head_id == Visit.id)
        .join(Head, Visit.head_id == Head.id)
        .where(GainCase.steps.in_(sorted(steps)), GainCase.part.in_(parts))
        .order_by(GainCase.saved_at.desc(), GainCase.id.desc())
        .limit(MOST)
    )  # fmt: skip
    if before is not None:
        query = query.where(GainCase.saved_at < before)
    for row in reversed(db.execute(query).all()):
        of_steps, side, part, *values = row
        key = of_steps, side, part
        case = PastCase(key, *values)
        by_key[key].append(case)
    return PastCases(by_key)
