"""Past results written in bulk are row for row what the shop's verbs make of the same file.

The verbs are the outside here: every page books in, tests and closes by them.
"""

from __future__ import annotations

import random
from typing import Any

import pytest
from sqlalchemy import Engine, select
from sqlalchemy.orm import Session

from shopflow.database import session_factory
from shopflow.models import Base, NameStamp
from shopflow.services.imports import kinds
from shopflow.services.imports.flows import Air
from shopflow.services.imports.reading import Writing, read
from shopflow.services.imports.results import Reader
from shopflow.services.imports.writing import Writer
from tests import factories
from tests.services.imports.files import AIR, LIFTS, Row, csv_of

pytestmark = pytest.mark.slow

Dump = dict[str, list[dict[str, Any]]]


def varied(rng: random.Random, count: int) -> list[Row]:
    """Tests of past jobs in all the ways a file may tell of them."""
    rows = []
    for number in range(count):
        head = rng.randrange(count // 2)
        serial = rng.choice(["", f"S-{head}", f"S-{head}", f"s {head}"])
        base: Row = {
            "job": f"A-{number}",
            "customer": rng.choice(["Müller", f"Tarn {head % 7}", f"Tarn {rng.randrange(7)}"]),
            "builder": "Hollin",
            "family": f"K{head % 3}",
            "engine cylinders": "4",
            "casting number": rng.choice(["HC 1", f"HC {head % 5}"]) if serial else f"HC {number}",
            "serial": serial,
            "valve diameter": rng.choice(["44 mm", "1.9 in"]),
            "valves": rng.choice(["", "2"]),
            "reference pressure": rng.choice(["", "10 inH2O"]),
            "barometer": rng.choice(["", "1009 mbar"]),
            "humidity": rng.choice(["", "45 %"]),
            "port area": rng.choice(["", "1110 mm2"]),
            "bench": rng.choice(["", "north", "south"]),
            "test notes": rng.choice(["", "Seats cut", "Ölig"]),
        }
        for stage in ("as received", "ported", "")[: rng.randrange(1, 4)]:
            rows += [base | _test(rng, stage) for _ in range(rng.randrange(1, 3))]
        if rng.random() < 0.2:
            rows.append(base | _test(rng, "of another head") | {"serial": f"T-{number}"})
    return rows


def _test(rng: random.Random, stage: str) -> Row:
    lifts = LIFTS if rng.random() < 0.8 else rng.sample(LIFTS, rng.randrange(1, 6))
    time = f" {rng.randrange(6, 24):02d}:{rng.randrange(60):02d}"
    flows = {lift: f"{_passed(rng, lift):.{rng.randrange(3)}f}" for lift in lifts}
    if rng.random() < 0.3:
        flows = {lift: f"{flow} / {_passed(rng, lift):.1f}" for lift, flow in flows.items()}
    return {
        "stage": stage,
        "cylinder": str(rng.randrange(1, 3)),
        "side": rng.choice(["intake", "Exhaust"]),
        "date": f"{rng.randrange(1990, 2020)}-0{rng.randrange(1, 10)}-15{time}",
        "test pressure": rng.choice(["28 inH2O", "25 inH2O"]),
        "flow unit": rng.choice(["cfm", "cfm", "L/s"]),
        "operator": rng.choice(["", "Ada"]),
        **flows,
    }


def _passed(rng: random.Random, lift: str) -> float:
    """A flow that a valve can pass at a lift, in cfm or L/s."""
    return rng.uniform(5, 15) * min(float(lift.split()[0]) / 0.05, 8.0)


ON_FILE = [
    {**row, "job": "B-1", "customer": "Tarn 1"}
    for row in [item for item in varied(random.Random(1), 20) if item["job"] == "A-4"]
]
"""The tests of a job that exists already: use that one."""


def written(engine: Engine, content: bytes, *, by_verbs: bool) -> Dump:
    """Every row on file once the content is, all of it taken back again."""
    with session_factory(engine)() as db:
        kind = kinds.get("results")
        sheet = read(content, kind.columns, Writing())
        reader = Reader(db, sheet, Air(**AIR))
        list(reader.actions())
        assert not sheet.faults
        writer = Writer(db, factories.BY, reader.parties, reader.castings)
        writer.write(reader.jobs.values(), by_verbs=by_verbs)
        db.flush()
        return dump(db)


AREAS = {"mean_area", "peak_area", "gain_over_first"}
"""m2, of the order of 1e-4, and a share of 1."""


def dump(db: Session) -> Dump:
    """Every table's rows in order, each key told by its place: a sequence leaves gaps."""
    tables = [
        table for table in Base.metadata.sorted_tables if table.name != NameStamp.__tablename__
    ]
    by_name = {
        table.name: [
            dict(row) for row in db.execute(select(table).order_by(*table.primary_key)).mappings()
        ]
        for table in tables
    }
    places = {
        name: {row["id"]: index for index, row in enumerate(rows)}
        for name, rows in by_name.items()
        if rows and "id" in rows[0]
    }
    for table in tables:
        refers = {key.parent.name: key.column.table.name for key in table.foreign_keys}
        for row in by_name[table.name]:
            for column, other in {**refers, "id": table.name}.items():
                if row.get(column) is not None and other in places:
                    row[column] = places[other][row[column]]
            for column in AREAS.intersection(row):
                # Many tests at once and one by itself differ in the last bits of a power.
                row[column] = None if row[column] is None else round(row[column], 12)
            if table.name == "event":
                row["subject_id"] = places[row["subject"]].get(row["subject_id"])
    return by_name


@pytest.fixture
def shop(engine: Engine) -> Engine:
    """A shop with a bench that files name, and a past job, its head and a customer on file."""
    with session_factory(engine).begin() as db:
        factories.shop_or_none(db)
        factories.create_bench(db, name="north")
        plan = kinds.plan(db, kinds.get("results"), csv_of(ON_FILE), Writing(), Air(**AIR))
        assert not plan.faults
        assert plan.actions
        plan.carry_out(db, factories.BY)
    return engine


@pytest.mark.parametrize("seed", range(2))
def test_bulk_writes_the_rows_that_the_verbs_do(shop: Engine, seed: int):
    rng = random.Random(seed)
    later = [row | {"stage": "later", "date": "2021-05-01"} for row in ON_FILE]
    content = csv_of(_in_any_order(rng, [*varied(rng, 24), *ON_FILE, *later]))
    bulk, by_verbs = (written(shop, content, by_verbs=way) for way in (False, True))
    assert bulk.keys() == by_verbs.keys()
    assert len(bulk["bench_session"]) > 50
    for name, rows in bulk.items():
        for item, other in zip(rows, by_verbs[name], strict=True):
            assert {k: (v, other[k]) for k, v in item.items() if v != other[k]} == {}, name


def _in_any_order(rng: random.Random, rows: list[Row]) -> list[Row]:
    """Shuffled; of tests that a file may not hold twice, the first."""
    by_name = {
        tuple(row.get(name) for name in ("job", "serial", "side", "cylinder", "stage", "date")): row
        for row in rows
    }
    shuffled = list(by_name.values())
    rng.shuffle(shuffled)
    return shuffled
