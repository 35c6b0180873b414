"""The state of a casting: asked at booking, inherited, and what it means for past results."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy.orm import Session

from shopflow.models import CastingState, EngineType, Head, Operation, Visit
from shopflow.services.actor import Actor
from shopflow.services.analysis import gains, since_stock
from shopflow.services.bench import bands, metal_cuts, past_tests, test_names
from shopflow.services.bench.past_tests import wanted_from
from shopflow.services.counter import booking
from shopflow.services.jobs import jobs
from shopflow.services.registry import castings
from shopflow.services.routing import operations
from tests import factories
from tests.cli.sessions import AFTER_US, EXHAUST_SI, INTAKE_US
from tests.services.expecting import faults_at


def book(db: Session, head: Head | None = None, days: int = 0, **given: str) -> Visit:
    """A head booked in so many days after the first, on file already or new."""
    factories.shop_or_none(db)
    by = Actor(None, factories.NOW + timedelta(days=days))
    if head is None:
        customer, engine_type = factories.create_customer(db), factories.create_engine_type(db)
        casting = {"serial": f"C{engine_type.id}"}
    else:
        customer, engine_type = head.owners[-1].customer, head.engine_type
        casting = {"head_id": str(head.id)}
    form = booking.BookIn(
        heads=[{**casting, **given}], customer_id=customer.id, engine_type_id=engine_type.id
    )
    return booking.book_in(db, by, form).heads[0]


def sign_off_step(db: Session, visit: Visit, kind: str) -> Operation:
    """A step of a visit that was done."""
    step = factories.create_operation(db, visit, kind)
    factories.approve(db, factories.BY, visit.job)
    return operations.sign_off(
        db, factories.someone(db), step, {"not_measured_because": "not asked for here"}
    )


def test_a_new_casting_is_in_the_state_given_at_booking_otherwise_unknown(db: Session):
    assert book(db, casting_state="as cast").casting_state is CastingState.AS_CAST
    assert book(db).casting_state is CastingState.UNKNOWN
    with faults_at("heads-0-casting_state"):
        book(db, casting_state="new")


@pytest.mark.parametrize(
    ("kind", "wanted"),
    [
        ("port-work", CastingState.PORTED_HERE),
        ("chamber-work", CastingState.PORTED_HERE),
        ("seat-cut", CastingState.PORTED_HERE),
        ("resurface", CastingState.AS_CAST),
        ("hot-wash", CastingState.AS_CAST),
    ],
)
def test_a_head_this_shop_cut_comes_back_ported_here(db: Session, kind: str, wanted: CastingState):
    first = book(db, casting_state="as cast")
    factories.create_operation(db, first, "port-work")
    assert castings.state_of(first.head) is CastingState.AS_CAST
    sign_off_step(db, first, kind)
    assert castings.state_of(first.head) is wanted
    assert book(db, first.head, days=30).casting_state is wanted


def test_a_head_ported_here_is_never_booked_in_as_cast(db: Session):
    first = book(db, casting_state="as cast")
    sign_off_step(db, first, "port-work")
    for state in ("as cast", "unknown"):
        with faults_at("heads-0-casting_state"):
            book(db, first.head, days=30, casting_state=state)
    second = book(db, first.head, days=40, casting_state="ported elsewhere")
    assert second.casting_state is CastingState.PORTED_ELSEWHERE
    with faults_at("casting_state"):
        jobs.change_visit(db, factories.BY, second, {"casting_state": "as cast"})
    jobs.change_visit(db, factories.BY, first, {"casting_state": "ported elsewhere"})
    assert first.casting_state is CastingState.PORTED_ELSEWHERE


def test_work_of_a_cancelled_job_is_not_inherited(db: Session):
    first = book(db, casting_state="as cast")
    sign_off_step(db, first, "port-work")
    jobs.cancel(db, factories.BY, first.job, "sold")
    assert castings.state_of(first.head) is CastingState.UNKNOWN


def twice_here(db: Session) -> tuple[Visit, Visit]:
    """A head tested as cast, ported and tested, and back to be tested as received."""
    first = book(db, casting_state="as cast")
    factories.create_session(db, first, INTAKE_US)
    factories.create_session(db, first, EXHAUST_SI)
    step = sign_off_step(db, first, "port-work")
    factories.create_session(db, first, AFTER_US.replace("seat cut", "ported"), after=step)
    second = book(db, first.head, days=30)
    factories.create_session(
        db, second, AFTER_US.replace("seat cut", "as received"),
        by=Actor(None, factories.NOW + timedelta(days=31)),
    )  # fmt: skip
    return first, second


def of_stage(db: Session, kind: EngineType, stage: str) -> list[str]:
    wanted = wanted_from({"side": "intake", "stage": stage})
    return [row.tag for row in past_tests.of_engine_types(db, [kind], wanted)]


def test_a_stock_band_holds_only_tests_of_castings_as_cast(db: Session):
    first, second = twice_here(db)
    kind = first.head.engine_type
    assert past_tests.stages(db, [kind]) == [
        "as received, as cast", "as received, ported here", "ported",
    ]  # fmt: skip
    assert of_stage(db, kind, "as received, as cast") == [first.tag]
    assert of_stage(db, kind, "as received, ported here") == [second.tag]
    assert bands.band_for(db, kind, "intake", "as received, as cast").heads == 1
    jobs.change_visit(db, factories.BY, first, {"casting_state": "unknown"})
    db.commit()
    # What is kept of a band is made anew once the state changes.
    assert bands.band_for(db, kind, "intake", "as received, as cast").heads == 0
    assert of_stage(db, kind, "as received, state unknown") == [first.tag]


def test_a_ported_head_as_received_is_named_so_and_not_drawn_as_stock(db: Session):
    _, second = twice_here(db)
    (row,) = second.sessions
    assert test_names.session_name(row) == "as received, ported here"
    assert not test_names.is_stock(row)
    (answer,) = past_tests.of_engine_types(
        db,
        [second.head.engine_type],
        wanted_from({"side": "intake", "stage": "as received, ported here"}),
    )
    assert not answer.as_received


def test_a_recipe_holds_the_work_of_earlier_visits(db: Session):
    first, second = twice_here(db)
    (result,) = [
        row
        for row in past_tests.of_engine_types(
            db, [first.head.engine_type], wanted_from({"side": "intake"})
        )
        if row.tag == second.tag
    ]
    steps = bands.what_was_done(db, result)
    assert [(step.tag, step.operation.kind.code) for step in steps] == [(first.tag, "port-work")]


def test_the_total_since_stock_goes_from_the_test_as_cast_to_the_latest_of_any_visit(db: Session):
    first, second = twice_here(db)
    (port,) = since_stock.since_stock(first.head)
    ported = next(row for row in first.sessions if row.stage == "ported")
    assert (port.stock.job_head, port.stock.side) == (first, "intake")
    assert test_names.is_stock(port.stock)
    assert port.latest is second.sessions[0]
    # The second visit's test has the readings of the test after porting.
    assert port.gain == gains.between(port.stock, ported)
    assert port.cuts == metal_cuts.between(port.stock, port.latest)
    assert not port.cuts.is_none
    assert port.gain is not None
    assert port.gain.percent > 0


def test_without_a_test_as_cast_there_is_no_total_since_stock(db: Session):
    first, _ = twice_here(db)
    jobs.change_visit(db, factories.BY, first, {"casting_state": "unknown"})
    assert since_stock.since_stock(first.head) == []
