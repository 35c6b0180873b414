"""The floor."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from shopflow.services.planning.floor import FloorRow


@dataclass(frozen=True)
class FloorHead:
    """An open head, and where it stands."""

    tag: str
    job: str
    customer_id: int
    engine: str
    where: str
    promised_on: date | None
    is_late: bool
    at_risk: bool

    @classmethod
    def of(cls, row: FloorRow) -> FloorHead:
        """A row of the floor."""
        return cls(
            tag=row.head.tag,
            job=row.head.job,
            customer_id=row.head.customer_id,
            engine=row.head.engine_type,
            where=row.where,
            promised_on=row.head.promised_on,
            is_late=row.is_late,
            at_risk=row.at_risk,
        )


@dataclass(frozen=True)
class Floor:
    """Every open head: late ones, those at risk, then the rest, each as promised."""

    items: list[FloorHead]
