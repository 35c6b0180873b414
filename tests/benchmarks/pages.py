"""The floor, a job's page and a head's against the app's emptiest page."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from shopflow.database import session_factory
from shopflow.models import When
from shopflow.services.measuring import calculated, whole_sheet
from shopflow.services.measuring.whole_sheet import Value
from shopflow.services.shop import built_in_kinds
from tests import factories
from tests.benchmarks.measuring import Bench, Row, in_turns
from tests.benchmarks.served import EMPTIEST, Served

SHEET_COLUMNS = (
    "guide clearance", "stem diameter", "valve margin", "seat width", "seat run-out",
    "installed height",
)  # fmt: skip


def measure(bench: Bench) -> Iterator[Row]:
    """Each page as a person asks for it, the whole answer."""
    served = Served(bench.folder, bench.large)
    job, head = latest_tested(served)
    for name, address in (("job page", f"/jobs/{job}"), ("head page", f"/heads/{head}"),
                          ("floor page", "/"), ("look-up page", "/look-up?q=Hollin")):  # fmt: skip
        page, empty = in_turns(
            bench.rounds * 5,
            partial(served.get, address),
            partial(served.get, EMPTIEST),
            clock=bench.clock,
        )
        name = f"{name}, {served.queries(address)} queries"
        yield Row(name, "the emptiest page", page, empty, 3)
    yield floor_with_a_long_past(bench, served)
    yield from of_24_valves(bench, served)


def of_24_valves(bench: Bench, served: Served) -> Iterator[Row]:
    """The page of a head measured whole and its sheet, against the emptiest page."""
    tag = measured_whole(served)
    columns = "&".join(f"kind={code}" for code in SHEET_COLUMNS)
    pages = (
        ("head page, 24 valves measured whole", f"/heads/{tag}", 3),
        ("sheet of them, 6 measurements, 288 cells", f"/heads/{tag}/sheet?{columns}", 20),
    )
    for name, address, goal in pages:
        page, empty = in_turns(
            bench.rounds * 5,
            partial(served.get, address),
            partial(served.get, EMPTIEST),
            clock=bench.clock,
        )
        yield Row(f"{name}, {served.queries(address)} queries", "the emptiest page", page, empty,
                  goal)  # fmt: skip


def measured_whole(served: Served, most: int | None = None) -> str:
    """Label of a new head of 24 valves, with every kind measured twice at each place, or at most
    at so many."""
    with session_factory(served.engine).begin() as db:
        visit = factories.create_planned_visit(db, cylinders="6")
        plan = visit.head.plan
        assert plan is not None
        values = [
            Value(kind, place, when, kind.least.text if kind.least else "good")
            for kind in built_in_kinds.measurement_kinds(db)
            if kind.code not in calculated.BY_CODE
            for place in plan.places(kind.place_kind)[:most]
            for when in When
        ]
        whole_sheet.record_all(db, factories.BY, visit, values)
        return visit.tag


def floor_with_a_long_past(bench: Bench, served: Served) -> Row:
    """The floor where ten times as much was done before: there is no more on it."""
    fewer = Served(bench.folder, bench.small)
    many, few = in_turns(
        bench.rounds * 5, partial(served.get, "/"), partial(fewer.get, "/"), clock=bench.clock
    )
    fewer.engine.dispose()
    return Row("floor page", "with a tenth of the jobs", many, few, 1.5)


def latest_tested(served: Served) -> tuple[str, str]:
    """Number and tag of the last job that was tested."""
    with served.engine.connect() as connection:
        row = connection.exec_driver_sql(
            "SELECT job.number, job_head.tag FROM bench_session"
            " JOIN job_head ON job_head.id = bench_session.job_head_id"
            " JOIN job ON job.id = job_head.job_id ORDER BY bench_session.id DESC LIMIT 1"
        ).one()
    return str(row[0]), str(row[1])
