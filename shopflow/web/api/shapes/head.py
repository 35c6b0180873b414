"""Engine types and heads."""

from __future__ import annotations

from dataclasses import dataclass

from shopflow import models
from shopflow.services.registry import heads
from shopflow.web.api.shapes.quantity import Quantity


@dataclass(frozen=True)
class Engine:
    """An engine type."""

    id: int
    builder: str
    family: str
    aliases: list[str]
    displacement: Quantity | None
    bore: Quantity | None
    stroke: Quantity | None
    cylinders: int
    valves_per_cylinder: int
    cylinders_per_head: int | None
    intake_valves: list[str]
    exhaust_valves: list[str]
    intake_ports: str
    exhaust_ports: str
    cooling: models.Cooling
    fuel: str
    notes: str

    @classmethod
    def of(cls, row: models.EngineType) -> Engine:
        """An engine type on record."""
        return cls(
            id=row.id,
            builder=row.builder,
            family=row.family,
            aliases=[alias.name for alias in row.aliases],
            displacement=Quantity.of(row.displacement),
            bore=Quantity.of(row.bore),
            stroke=Quantity.of(row.stroke),
            cylinders=row.cylinders,
            valves_per_cylinder=row.valves_per_cylinder,
            cylinders_per_head=row.cylinders_per_head,
            intake_valves=row.intake_valves,
            exhaust_valves=row.exhaust_valves,
            intake_ports=row.intake_ports,
            exhaust_ports=row.exhaust_ports,
            cooling=row.cooling,
            fuel=row.fuel,
            notes=row.notes,
        )


@dataclass(frozen=True)
class Head:
    """A casting, its owner, and the tags of its visits."""

    id: int
    engine_id: int
    customer_id: int | None
    casting_number: str
    serial: str
    material: str
    ports: str
    chamber: str
    cylinders: str
    notes: str
    status: str
    """As "in use", "spare" or "scrapped"."""

    status_because: str
    tags: list[str]

    @classmethod
    def of(cls, row: models.Head) -> Head:
        """A head on record."""
        owner = heads.owner(row)
        return cls(
            id=row.id,
            engine_id=row.engine_type_id,
            customer_id=owner.id if owner else None,
            casting_number=row.casting_number,
            serial=row.serial,
            material=row.material,
            ports=row.ports,
            chamber=row.chamber,
            cylinders=row.cylinders,
            notes=row.notes,
            status=row.status.value,
            status_because=row.status_because,
            tags=[visit.tag for visit in row.visits],
        )
