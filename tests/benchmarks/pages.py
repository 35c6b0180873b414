"""The floor and a job's page against the app's emptiest page."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from tests.benchmarks.measuring import Bench, Row, in_turns
from tests.benchmarks.served import EMPTIEST, Served


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
