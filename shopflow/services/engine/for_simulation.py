"""Flow tests of a head for an engine simulation."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable

from shopflow.models import BenchSession, Head
from shopflow.services.bench import sessions
from shopflow.services.bench.test_names import session_name
from shopflow.testfile import SessionDocument
from shopflow.texts import translated
from shopflow.units import pretty_text


def offered(head: Head) -> list[BenchSession]:
    """Every flow test of a head that counts, the newest visit first, the intakes before."""
    visits = sorted(head.visits, key=lambda visit: visit.id, reverse=True)
    return [
        row
        for visit in visits
        for row in sorted(visit.sessions, key=lambda test: test.side == "exhaust")
    ]


def suggested(head: Head) -> list[BenchSession]:
    """Each port's last test, with those of the same stage at other pressures."""
    last: dict[tuple[str, str], BenchSession] = {}
    for visit in sorted(head.visits, key=lambda row: row.id):
        last |= {(row.side, row.cylinder): row for row in visit.sessions}
    stages = {_stage(row) for row in last.values()}
    return [row for row in offered(head) if _stage(row) in stages]


def _stage(row: BenchSession) -> tuple[object, ...]:
    return row.job_head_id, row.side, row.cylinder, row.after_operation_id, row.stage


def name(row: BenchSession) -> str:
    """A test as it is chosen, as "Intake: ported, cylinder 1; 28 inH2O, J-1-A"."""
    pressure = pretty_text(row.test_pressure.text).replace(" ", "\u00a0")
    title = f"{translated(row.side).capitalize()}: {session_name(row)}"
    return f"{title}; {pressure}, {row.job_head.tag}"


def documents(rows: Iterable[BenchSession]) -> list[SessionDocument]:
    """The tests as files, each with its engine type and head where nobody typed them."""
    return [_named(row) for row in rows]


def _named(row: BenchSession) -> SessionDocument:
    document, head = sessions.document(row), row.job_head.head
    return dataclasses.replace(
        document,
        engine_type=document.engine_type or head.engine_type.title,
        head=document.head or row.job_head.tag,
        stage=document.stage or session_name(row),
    )
