"""Sentences on which ports a certificate is of."""

from __future__ import annotations

from sqlalchemy.orm import Session

from shopflow.services.certificates.tested_ports import is_sample, sampling
from tests import factories
from tests.cli.sessions import INTAKE_US

CYLINDER = INTAKE_US.replace('side = "intake"', 'side = "intake"\ncylinder = "2"')


def test_the_ports_not_tested_are_named_and_no_reason_is_made_up(db: Session) -> None:
    visit = factories.create_visit(db)
    rows = [factories.create_session(db, visit, CYLINDER)]
    assert list(sampling(visit, rows, "")) == ["Intake: cylinder 2 tested, no other port"]
    factories.set_layout(db, visit.head.engine_type, cylinders_per_head="4")
    assert is_sample(visit, rows)
    assert list(sampling(visit, rows, "")) == ["Intake: cylinder 2 tested; 1, 3 and 4 not tested"]
    (reasoned,) = sampling(visit, rows, "the lowest flow.")
    assert reasoned.endswith("; 1, 3 and 4 not tested. Reason: the lowest flow")
    others = [
        factories.create_session(db, visit, CYLINDER.replace('"2"', f'"{number}"'))
        for number in ("1", "3 left", "4")
    ]
    assert list(sampling(visit, [*rows, *others], "")) == [
        "Intake: every port tested, cylinder 1, 2, 4 and 3 left"
    ]
    assert not is_sample(visit, [*rows, *others])
