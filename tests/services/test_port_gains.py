"""Gain of each port of a head, by its place."""

from __future__ import annotations

from sqlalchemy.orm import Session

from shopflow.models import Visit
from shopflow.services.actor import Actor
from shopflow.services.analysis import port_gains
from shopflow.services.registry import head_layouts
from tests import factories
from tests.cli.sessions import AFTER_US, EXHAUST_SI, INTAKE_US

LAYOUT = {
    "cylinders_per_head": "4", "intake_valves": "", "exhaust_valves": "", "intake_ports": "",
    "exhaust_ports": "1, 2+3, 4",
}  # fmt: skip


def of_cylinder(text: str, cylinder: str) -> str:
    """A flow test file that names its cylinder."""
    return text.replace("side = ", f'cylinder = "{cylinder}"\nside = ', 1)


def laid_out(db: Session, by: Actor) -> Visit:
    """A head of four cylinders, the middle exhaust ports shared."""
    visit = factories.create_visit(db)
    head_layouts.set_layout(db, by, visit.head.engine_type, LAYOUT)
    return visit


def test_a_port_gains_by_its_last_test_over_its_first(db: Session, by: Actor):
    visit = laid_out(db, by)
    factories.create_session(db, visit, of_cylinder(INTAKE_US, "2"))
    step = factories.create_operation(db, visit)
    later = factories.create_session(db, visit, of_cylinder(AFTER_US, "2"), after=step)
    factories.create_session(db, visit, of_cylinder(EXHAUST_SI, "3 left"))
    assert not port_gains.has_ports_to_compare(visit)
    ports = port_gains.of_visit(visit)
    assert [port.label for port in ports] == [
        "cylinder 1, intake port", "cylinder 2, intake port", "cylinder 3, intake port",
        "cylinder 4, intake port", "cylinder 1, exhaust port",
        "cylinders 2 and 3, shared exhaust port", "cylinder 4, exhaust port",
    ]  # fmt: skip
    tested = [port for port in ports if port.tests]
    assert [(port.side, port.tests) for port in tested] == [("intake", 2), ("exhaust", 1)]
    assert later.gain_over_first is not None
    assert [port.gain for port in tested] == [later.gain_over_first, None]
    factories.create_session(db, visit, of_cylinder(EXHAUST_SI, "1"))
    assert port_gains.has_ports_to_compare(visit)


def test_without_a_layout_no_port_is_known(db: Session):
    visit = factories.create_visit(db)
    factories.create_session(db, visit, INTAKE_US)
    assert port_gains.of_visit(visit) == []
