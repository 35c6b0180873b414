"""Names of flow tests: their files, stages and ports in a few words."""

from __future__ import annotations

from shopflow.models import PORTED_STATES, BenchSession, CastingState
from shopflow.services.bench.metal_cuts import AS_RECEIVED, is_as_received
from shopflow.texts import gettext, translated


def file_name(row: BenchSession) -> str:
    """Name of a test's file where it is attached to a document."""
    return f"session-{row.id}.toml"


def session_name(row: BenchSession) -> str:
    """A session in a few words: its stage and port, or what it followed."""
    stage = stage_name(row)
    if not row.cylinder:
        return stage
    return gettext("{stage}, cylinder {cylinder}", stage=stage, cylinder=row.cylinder)


def stage_name(row: BenchSession) -> str:
    """A session's stage as written, else what it followed."""
    followed = row.after_operation
    stage = translated(row.stage) or (
        gettext("after “{step}”", step=followed.kind.name) if followed else translated(AS_RECEIVED)
    )
    state = row.job_head.casting_state
    # A ported head as received is no stock head.
    is_ported = is_as_received(stage) and state in PORTED_STATES
    return f"{stage}, {translated(state.value)}" if is_ported else stage


def stage_to_rank(row: BenchSession) -> str:
    """A session's stage among past results: one as received names the state of the casting."""
    stage = stage_name(row)
    if not is_as_received(stage) or row.job_head.casting_state in PORTED_STATES:
        return stage
    return f"{stage}, {gettext('as cast') if is_stock(row) else gettext('state unknown')}"


def is_stock(row: BenchSession) -> bool:
    """True where the test is of a casting with no earlier work."""
    is_as_cast = row.job_head.casting_state is CastingState.AS_CAST
    return is_as_cast and is_as_received(stage_name(row))
