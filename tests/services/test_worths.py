"""What each step of a head's work was worth, from the sessions on file."""

from __future__ import annotations

import pytest
from sqlalchemy.orm import Session

from shopflow.services import worths
from tests import factories
from tests.cli.sessions import AFTER_US, EXHAUST_SI, INTAKE_US


def test_a_port_tested_twice_has_a_worth(db: Session):
    stay = factories.create_visit(db)
    first = factories.create_session(db, stay, INTAKE_US)
    last = factories.create_session(db, stay, AFTER_US)
    factories.create_session(db, stay, EXHAUST_SI)
    (port,) = worths.of_head(stay)
    assert [row.id for row in port.rows] == [first.id, last.id]
    assert port.names == ("as received", "seat cut")
    assert port.worth is not None
    # By hand: the trapezoid of the earlier curve from 0.06 to 0.45 in, in m3/s.
    assert port.worth.total[0].gain == pytest.approx(port.worth.steps[0][0].gain)
    assert port.worth.parts[0].low == pytest.approx(0.06 * 0.0254)


def test_tests_stated_at_unlike_pressures_have_none(db: Session):
    stay = factories.create_visit(db)
    factories.create_session(db, stay, INTAKE_US)
    other = AFTER_US.replace("[bench]", '[bench]\nreference_pressure = "25 inH2O"')
    factories.create_session(db, stay, other)
    (port,) = worths.of_head(stay)
    assert port.worth is None


def test_a_head_tested_once_has_no_ports_to_show(db: Session):
    stay = factories.create_visit(db)
    factories.create_session(db, stay, INTAKE_US)
    assert worths.of_head(stay) == []
