"""Records of benches that programs read: days, checks, fixtures, and velocity maps."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Select, select
from sqlalchemy.orm import joinedload

from shopflow import models
from shopflow.services.bench import fixtures, velocity_maps
from shopflow.web.api import shapes
from shopflow.web.api.endpoint import among, key, text
from shopflow.web.api.interface import interface
from shopflow.web.db import db

BENCH = key("bench", "Key of the bench.")


@interface.page(
    "/fixtures",
    "Fixtures; archived ones say so",
    shapes.Fixture,
    among("kind", "Which kind.", *models.FixtureKind),
)
def list_fixtures(arguments: dict[str, Any]) -> Select[Any]:
    """Fixtures."""
    query = select(models.Fixture)
    if "kind" in arguments:
        query = query.where(models.Fixture.kind == arguments["kind"])
    return query


@interface.record("/fixtures/<int:fixture_id>", "A fixture", shapes.Fixture)
def fixture(fixture_id: int) -> shapes.Fixture:
    """A fixture."""
    return shapes.Fixture.of(fixtures.get(db(), fixture_id))


@interface.page("/bench-days", "Days on which a bench was warmed up", shapes.BenchDay, BENCH)
def list_bench_days(arguments: dict[str, Any]) -> Select[Any]:
    """Bench days."""
    query = select(models.BenchDay).options(joinedload(models.BenchDay.bench))
    if "bench" in arguments:
        query = query.where(models.BenchDay.bench_id == arguments["bench"])
    return query


@interface.page("/leak-checks", "Leak checks of benches' ranges", shapes.LeakCheck, BENCH)
def list_leak_checks(arguments: dict[str, Any]) -> Select[Any]:
    """Leak checks."""
    return _of_range(models.LeakCheck, arguments)


@interface.page("/plate-checks", "Plate checks of benches' ranges", shapes.PlateCheck, BENCH)
def list_plate_checks(arguments: dict[str, Any]) -> Select[Any]:
    """Plate checks."""
    return _of_range(models.BenchCheck, arguments)


@interface.page(
    "/velocity-maps",
    "Velocity maps of ports",
    shapes.VelocityMap,
    text("tag", "Label of their head."),
    key("session", "Key of the flow test that they were read beside."),
)
def list_velocity_maps(arguments: dict[str, Any]) -> Select[Any]:
    """Velocity maps."""
    row = models.VelocityMap
    columns: dict[str, Any] = {"tag": models.Visit.tag, "session": row.session_id}
    query = select(row).join(row.session).join(models.BenchSession.job_head)
    return query.where(*(columns[name] == value for name, value in arguments.items()))


@interface.record("/velocity-maps/<int:velocity_map_id>", "A velocity map", shapes.VelocityMap)
def velocity_map(velocity_map_id: int) -> shapes.VelocityMap:
    """A velocity map."""
    return shapes.VelocityMap.of(velocity_maps.get(db(), velocity_map_id))


def _of_range(row: Any, arguments: dict[str, Any]) -> Select[Any]:
    query: Select[Any] = select(row).options(joinedload(row.range))
    if "bench" in arguments:
        query = query.join(row.range).where(models.BenchRange.bench_id == arguments["bench"])
    return query
