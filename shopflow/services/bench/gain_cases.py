"""Cases: what a head gained by a set of steps, stored so that forecasts need not reduce past tests.

Steps are pooled as they were truly done: a case is of all that cut metal between two tests that
follow one another, and of none of it alone. A port counts once for a set of steps. Tests on unlike
set-ups make no case, confirmed as meant or not: what they differ by is not of the steps alone.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Any

from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from shopflow.calc.head_gain import head_gains
from shopflow.calc.reduction import Reduction
from shopflow.calc.set_up import are_of_one
from shopflow.models import BenchSession, GainCase, Visit, steps_key
from shopflow.services.bench import metal_cuts

Tested = tuple[BenchSession, Reduction]
Pairs = list[tuple[Tested, Tested]]


def renew(db: Session, visit: Visit, tests: Sequence[Tested]) -> None:
    """Calculate the cases of a head on a job again, from its tests in order."""
    pairs = _by_steps(db, visit, tests)
    stored = {_key(row): row for row in db.scalars(_of_visit(visit))} if visit.id else {}
    if not pairs and not stored:
        return
    # Tests just added get the keys that a case names them by.
    db.flush()
    for values in _cases(visit, pairs):
        row = stored.pop(tuple(values[name] for name in _KEY), None)
        if row is None:
            db.add(GainCase(**values))
            continue
        for name, value in values.items():
            setattr(row, name, value)
    if stored:
        db.execute(delete(GainCase).where(GainCase.id.in_([row.id for row in stored.values()])))


_KEY = ("steps", "side", "part")


def _key(row: GainCase) -> tuple[Any, ...]:
    return tuple(getattr(row, name) for name in _KEY)


def _of_visit(visit: Visit) -> Any:
    return select(GainCase).where(GainCase.job_head_id == visit.id)


def _by_steps(db: Session, visit: Visit, tests: Sequence[Tested]) -> dict[tuple[str, str], Pairs]:
    """Tests that follow one another on a port, by the steps between them and their side."""
    ports: defaultdict[tuple[str, str], list[Tested]] = defaultdict(list)
    for test in tests:
        ports[test[0].side, test[0].cylinder].append(test)
    cutting = [step for step in visit.operations if step.kind.cuts_metal]
    log: metal_cuts.Log = {}
    if cutting and len(tests) > len(ports):
        log = metal_cuts.log_of(db, cutting)
    by_steps: defaultdict[tuple[str, str], Pairs] = defaultdict(list)
    for (side, _), of_port in ports.items():
        counted: set[str] = set()
        for before, after in pairwise(of_port) if cutting else ():
            if not are_of_one(before[1].test.set_up, after[1].test.set_up):
                continue
            steps = steps_key(metal_cuts.between(before[0], after[0], log).kinds)
            if steps and steps not in counted:
                counted.add(steps)
                by_steps[steps, side].append((before, after))
    return by_steps


def _cases(visit: Visit, pairs: dict[tuple[str, str], Pairs]) -> Iterator[dict[str, Any]]:
    """Values of each case, by the model's attributes."""
    for (steps, side), of_steps in pairs.items():
        gains = head_gains([(before[1], after[1]) for before, after in of_steps])
        rows = [row for pair in of_steps for row, _ in pair]
        for gain in gains:
            yield {
                "job_head_id": visit.id,
                "steps": steps,
                "side": side,
                "part": gain.part,
                "log_gain": gain.value,
                "standard_uncertainty": gain.standard_uncertainty,
                "expanded_uncertainty": gain.expanded_uncertainty,
                "ports": gain.ports,
                "tests": [[before[0].id, after[0].id] for before, after in of_steps],
                "saved_at": max(row.entered_at for row in rows),
            }
