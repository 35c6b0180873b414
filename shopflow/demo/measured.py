"""Heads measured whole, valve by valve, once the layouts of their engine types are recorded."""

from __future__ import annotations

from shopflow.demo.seed import Seed, Table
from shopflow.demo.set_up import set_limit
from shopflow.models import EngineType, Visit
from shopflow.services.actor import Actor
from shopflow.services.bench import sections
from shopflow.services.measuring import measurements, usual_values
from shopflow.services.registry import head_layouts
from shopflow.services.springs import records

LAYOUT = (
    "cylinders_per_head", "intake_valves", "exhaust_valves", "intake_ports", "exhaust_ports",
)  # fmt: skip


def add(seed: Seed) -> None:
    """Layouts, usual values, limits and springs of engine types, then every place of some heads."""
    content = seed.read("measured.toml")
    by = seed.actor(None, content["head"][0]["at"])
    for row in content["engine_type"]:
        describe(seed, by, seed.engine_types[row["key"]], row)
    for row in content["head"]:
        measure(seed, row)


def describe(seed: Seed, by: Actor, engine_type: EngineType, row: Table) -> None:
    """Record the layout of a type's heads, their usual values and limits."""
    head_layouts.set_layout(seed.db, by, engine_type, {name: row[name] for name in LAYOUT})
    for usual in row["usual"]:
        values = dict(usual)
        kind = seed.figures[values.pop("kind")]
        usual_values.set_(seed.db, by, engine_type, kind, values)
    for limit in row["limit"]:
        set_limit(seed, by, engine_type, limit)
    _springs(seed, by, engine_type, row)


def measure(seed: Seed, row: Table) -> None:
    """Every place of a head's last visit, column by column, then sections along its ports."""
    visit = seed.heads[row["key"]].visits[-1]
    by = seed.actor(row["by"], row["at"])
    for column in row["column"]:
        _fill(seed, by, visit, column)
    for port in row.get("port", []):
        shared = {name: port[name] for name in ("side", "cylinder", "when")}
        sections.record(seed.db, by, visit, shared, port["sections"])
    _springs(seed, by, visit, row)


def _springs(seed: Seed, by: Actor, owner: EngineType | Visit, row: Table) -> None:
    """Save the springs of an engine type or a head, side by side."""
    for spring in row.get("spring", []):
        values = dict(spring)
        side, points = values.pop("side"), values.pop("points")
        records.save(seed.db, by, owner, side, values, points)


def _fill(seed: Seed, by: Actor, visit: Visit, column: Table) -> None:
    kind, plan = seed.figures[column["kind"]], visit.head.plan
    places = plan.places(kind.place_kind) if plan else []
    for place, value in zip(places, column["values"], strict=True):
        cylinder, side, valve = place.key
        values = {"cylinder": cylinder, "side": side, "valve": valve, "value": value}
        values["when"] = column["when"]
        measurements.record(seed.db, by, visit, kind.id, values)
