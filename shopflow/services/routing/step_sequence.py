"""The usual sequence of a head's work, and where in a routing work found later belongs."""

from __future__ import annotations

from collections.abc import Sequence

from shopflow.models import Operation, OperationKind, OperationState
from shopflow.services.shop.built_in_kinds import OPERATIONS

FLOW_TEST = "flow-test"
_RANKS = {step.code: rank for rank, step in enumerate(OPERATIONS)}
_BEFORE_TESTS = _RANKS[FLOW_TEST] - 0.5


def position_of(kind: OperationKind, steps: Sequence[Operation]) -> int:
    """The index at which a new step of this kind is inserted into a head's steps.

    After everything begun or done, then before the first step that usually comes later, such as
    the final flow test or the assembly. A flow test with metal still to cut after it is no final
    one, and does not count.
    """
    begun = [index for index, step in enumerate(steps) if step.state is not OperationState.PLANNED]
    start = begun[-1] + 1 if begun else 0
    for index in range(start, len(steps)):
        step = steps[index]
        is_final = not any(later.kind.cuts_metal for later in steps[index + 1 :])
        if (step.kind.code != FLOW_TEST or is_final) and _rank(step.kind) > _rank(kind):
            return index
    return len(steps)


def _rank(kind: OperationKind) -> float:
    """A kind's place in the usual sequence; the shop's own kinds come before the final tests."""
    return _RANKS.get(kind.code, _BEFORE_TESTS)
