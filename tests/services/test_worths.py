"""Gain of each step of a head's work, from the recorded tests."""

from __future__ import annotations

import pytest
from sqlalchemy.orm import Session

from shopflow.services.analysis import gain_by_step
from tests import factories
from tests.cli.sessions import AFTER_US, EXHAUST_SI, INTAKE_US


def test_a_port_tested_twice_has_a_worth(db: Session):
    visit = factories.create_visit(db)
    first = factories.create_session(db, visit, INTAKE_US)
    last = factories.create_session(db, visit, AFTER_US)
    factories.create_session(db, visit, EXHAUST_SI)
    (port,) = gain_by_step.of_head(visit)
    assert [row.id for row in port.rows] == [first.id, last.id]
    assert port.names == ("as received", "seat cut")
    assert port.worth is not None
    assert port.worth.total[0].flow.gain == pytest.approx(port.worth.steps[0][0].flow.gain)
    assert port.worth.parts[0].low == pytest.approx(0.06 * 0.0254)


def test_the_pressure_that_flows_are_stated_at_leaves_the_gain_as_it_is(db: Session):
    visit = factories.create_visit(db)
    factories.create_session(db, visit, INTAKE_US)
    other = AFTER_US.replace("[bench]", '[bench]\nreference_pressure = "25 inH2O"')
    factories.create_session(db, visit, other)
    factories.create_session(db, visit, AFTER_US)
    (port,) = gain_by_step.of_head(visit)
    assert port.worth is not None
    assert port.worth.steps[1][0].flow.gain_percent == pytest.approx(0.0, abs=1e-9)


def test_a_head_tested_once_has_no_ports_to_show(db: Session):
    visit = factories.create_visit(db)
    factories.create_session(db, visit, INTAKE_US)
    assert gain_by_step.of_head(visit) == []
