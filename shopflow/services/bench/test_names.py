"""Names of flow tests: their files, stages and ports in a few words."""

from __future__ import annotations

from shopflow.models import PORTED_STATES, BenchSession, CastingState
from shopflow.services.bench.metal_cuts import AS_RECEIVED
from shopflow.texts import gettext


def file_name(row: BenchSession) -> str:
    """Name of a test's file where it is attached to a document."""
    return f"session-{row.id}.toml"


def session_name(row: BenchSession) -> str:
    """A session in a few words: its stage and port, or what it followed."""
    stage = stage_name(row)
    return f"{stage}, cylinder {row.cylinder}" if row.cylinder else stage


def stage_name(row: BenchSession) -> str:
    """A session's stage as written, else what it followed."""
    followed = row.after_operation
    after = gettext("after “{step}”", step=followed.kind.name) if followed else AS_RECEIVED
    stage = row.stage or after
    state = row.job_head.casting_state
    # A ported head as received is no stock head.
    is_ported = stage.startswith(AS_RECEIVED) and state in PORTED_STATES
    return f"{stage}, {state.value}" if is_ported else stage


def stage_to_rank(row: BenchSession) -> str:
    """A session's stage among past results: one as received names the state of the casting."""
    stage = stage_name(row)
    if not stage.startswith(AS_RECEIVED) or row.job_head.casting_state in PORTED_STATES:
        return stage
    return f"{stage}, {'as cast' if is_stock(row) else 'state unknown'}"


def is_stock(row: BenchSession) -> bool:
    """True where the test is of a casting with no earlier work."""
    is_as_cast = row.job_head.casting_state is CastingState.AS_CAST
    return is_as_cast and stage_name(row).startswith(AS_RECEIVED)
