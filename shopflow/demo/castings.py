"""Castings of the invented shop: valves tested one by one, one scrapped, spares."""

from __future__ import annotations

from shopflow.demo.seed import Seed, Table
from shopflow.models import IntegrityKind, PlaceKind
from shopflow.services.measuring import integrity_limits, integrity_tests
from shopflow.services.registry import casting_status


def add(seed: Seed) -> None:
    """Limits of tests, tests of every valve of some heads, then castings scrapped and spare."""
    content = seed.read("castings.toml")
    for row in content["leak_limit"]:
        limit(seed, row)
    for row in content["valve_test"]:
        test_valves(seed, row)
    for row in content["scrapped"]:
        by = seed.actor(row["by"], row["at"])
        casting_status.set_status(seed.db, by, seed.heads[row["head"]], "scrapped", row["reason"])
    for row in content["spare"]:
        by = seed.actor(row["by"], row["at"])
        values = {name: row[name] for name in ("casting_number", "serial", "material")}
        engine_type = seed.engine_types[row["engine_type"]]
        casting_status.add_spare(seed.db, by, engine_type, values, row["source"])


def limit(seed: Seed, row: Table) -> None:
    """A limit of an engine type's tests."""
    values = dict(row)
    engine_type = seed.engine_types[values.pop("engine_type")]
    by = seed.actor(None, seed.shop_file["as_of_time"])
    integrity_limits.set_(seed.db, by, engine_type, values.pop("kind"), values.pop("side"), values)


def test_valves(seed: Seed, row: Table) -> None:
    """Test every valve of a head on its last visit, in the order of its places."""
    visit = seed.heads[row["head"]].visits[-1]
    by = seed.actor(row["by"], row["at"])
    shared = {name: row[name] for name in ("method", "medium", "duration")}
    plan = visit.head.plan
    places = plan.places(PlaceKind.VALVE) if plan else []
    spots, verdicts = row.get("spots", {}), row.get("verdicts", {})
    rows: dict[int, Table] = {}
    for number, (place, value) in enumerate(zip(places, row["values"], strict=True)):
        cylinder, side, valve = place.key
        spot = spots.get(str(number), "")
        rows[number] = {
            "cylinder": cylinder, "side": side, "valve": valve, "pressure": value, "spot": spot,
            "result": verdicts.get(str(number), ""),
        }  # fmt: skip
    step = next(operation for operation in visit.operations if operation.kind.code == row["step"])
    kind = IntegrityKind(row["kind"])
    integrity_tests.add_valves(seed.db, by, visit, kind, shared, rows, step)
