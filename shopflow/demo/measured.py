"""Heads measured whole, valve by valve, once the layouts of their engine types are recorded."""

from __future__ import annotations

from collections.abc import Iterator

from shopflow.demo.seed import Seed, Table
from shopflow.demo.set_up import set_limit
from shopflow.models import EngineType, Visit, When
from shopflow.services.actor import Actor
from shopflow.services.bench import sections
from shopflow.services.measuring import seat_profiles, usual_values, whole_sheet
from shopflow.services.measuring.whole_sheet import Value
from shopflow.services.registry import head_layouts, heads
from shopflow.services.springs import records
from shopflow.units import SI

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
    for path in sorted((seed.folder / "sheets").glob("*.toml")):
        measure_whole(seed, seed.read(f"sheets/{path.name}"))


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
    for profile in row.get("seat", []):
        values = dict(profile)
        side = values.pop("side")
        seat_profiles.save_usual(seed.db, by, engine_type, side, values, SI)


def measure(seed: Seed, row: Table) -> None:
    """Every place of a head's last visit, sections along its ports, then the cuts of its seats."""
    visit = seed.heads[row["key"]].visits[-1]
    by = seed.actor(row["by"], row["at"])
    values = [value for column in row["column"] for value in _values(seed, visit, column)]
    whole_sheet.record_all(seed.db, by, visit, values)
    for port in row.get("port", []):
        shared = {name: port[name] for name in ("side", "cylinder", "when")}
        sections.record(seed.db, by, visit, shared, port["sections"])
    _springs(seed, by, visit, row)
    for profile in row.get("seat", []):
        _cut(seed, by, visit, profile)


def _springs(seed: Seed, by: Actor, owner: EngineType | Visit, row: Table) -> None:
    """Save the springs of an engine type or a head, side by side."""
    for spring in row.get("spring", []):
        values = dict(spring)
        side, points = values.pop("side"), values.pop("points")
        records.save(seed.db, by, owner, side, values, points)


def measure_whole(seed: Seed, row: Table) -> None:
    """A sheet with every usual measurement of a head's last visit, before and after the work."""
    head = seed.heads[row["key"]]
    visit = head.visits[-1]
    if "cylinders" in row:
        by = seed.actor(row["by"], row["at"]["before"])
        heads.change(seed.db, by, head, {"cylinders": row["cylinders"]})
    for when, at in row["at"].items():
        columns = [column for column in row["column"] if column["when"] == when]
        values = [value for column in columns for value in _values(seed, visit, column)]
        whole_sheet.record_all(seed.db, seed.actor(row["by"], at), visit, values)


def _values(seed: Seed, visit: Visit, column: Table) -> Iterator[Value]:
    """A column's values at the places of the head, in their order."""
    kind, plan = seed.figures[column["kind"]], visit.head.plan
    places = plan.places(kind.place_kind) if plan else []
    for place, number in zip(places, column["values"], strict=True):
        typed = f"{number} {column['unit']}" if "unit" in column else number
        yield Value(kind, place, When(column["when"]), typed)


def _cut(seed: Seed, by: Actor, visit: Visit, profile: Table) -> None:
    """Enter the profile of one seat, and copy it to its side where the seed says so."""
    values = dict(profile)
    cylinder, side, valve, when = (
        values.pop(name) for name in ("cylinder", "side", "valve", "when")
    )
    to_side = values.pop("to_side", False)
    seat = seat_profiles.seat_at(visit, cylinder, side, valve)
    row = seat_profiles.save(seed.db, by, visit, seat, When(when), values, SI)
    if to_side:
        seat_profiles.copy_to_side(seed.db, by, row)
