"""Reference curves of a flow test, on both databases."""

from __future__ import annotations

from shopflow.services.bench import reference_curves, test_results
from shopflow.services.counter import booking
from tests.cli.sessions import AFTER_US, EXHAUST_SI, INTAKE_US
from tests.factories import BY, create_engine_type, create_session, create_visit


def test_this_heads_tests_come_first_then_its_earlier_ones_then_the_best(db):
    kind = create_engine_type(db)
    best = create_session(db, create_visit(db, engine_type=kind), AFTER_US)
    past = create_visit(db, engine_type=kind)
    before = create_session(db, past, INTAKE_US)
    form = booking.BookIn(heads=[{"head_id": past.head_id}], customer_id=past.job.customer_id)
    visit = booking.book_in(db, BY, form).heads[0]
    mine = create_session(db, visit, EXHAUST_SI)
    offered = reference_curves.offered(db, visit)
    assert [item.session_id for item in offered] == [mine.id, before.id, best.id]
    assert past.tag in offered[1].words
    assert "the best so far" in offered[2].words


def test_what_is_chosen_is_drawn_over_and_else_the_latest_of_the_side(db):
    visit = create_visit(db)
    first, last = create_session(db, visit, INTAKE_US), create_session(db, visit, AFTER_US)
    other = create_session(db, create_visit(db), INTAKE_US)
    assert reference_curves.chosen(
        db, visit, str(first.id), "intake"
    ) == test_results.session_curve(first)
    assert reference_curves.chosen(
        db, visit, str(other.id), "intake"
    ) == test_results.session_curve(other)
    for odd in ("", "x", "9" * 30, str(other.id + 1), "-1", "٣"):
        assert reference_curves.chosen(db, visit, odd, "intake") == test_results.session_curve(last)
    assert reference_curves.chosen(db, visit, "", "exhaust") is None
