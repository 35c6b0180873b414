"""Values that a calculator starts from: those of an engine type and what is usual for it."""

from __future__ import annotations

from sqlalchemy.orm import Session

from shopflow.models import EngineType
from shopflow.services.bench.sizes import valves_lifted
from shopflow.services.measuring import usual_values


def of_engine_type(db: Session, engine_type: EngineType) -> dict[str, str]:
    """Values as typed, by the names of the calculators' fields; those not recorded are left out."""
    chamber = usual_values.holding(db, engine_type, "chamber volume", "")
    valve = usual_values.holding(db, engine_type, "valve head diameter", "intake")
    quantities = {
        "bore": engine_type.bore,
        "stroke": engine_type.stroke,
        "chamber": chamber.value if chamber else None,
        "valve_diameter": valve.value if valve else None,
    }
    typed = {name: value.text for name, value in quantities.items() if value is not None}
    return typed | {"valves": str(valves_lifted(engine_type, "intake"))}
