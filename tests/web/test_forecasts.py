"""Forecasts on pages and quotes: beside the plan, with every case, and against what came."""

from __future__ import annotations

import pymupdf
import pytest
from sqlalchemy import select

from shopflow import sentences
from shopflow.calc.forecast import Case, forecast
from shopflow.calc.worth import WHOLE
from shopflow.models import EngineType, GainCase, Visit
from shopflow.services.actor import Actor
from shopflow.services.routing import operations
from shopflow.services.shop import house_style
from tests import factories
from tests.factories import BY
from tests.past_heads import GAINS, at, cut, flow_test, plan, shop_of_past, sign_off

RANGE = "+2 to +8 %"
CAVEAT = "not a promise"


@pytest.fixture
def by(db) -> Actor:
    return factories.someone(db)


@pytest.fixture
def engine_type(db, by) -> EngineType:
    engine_type = shop_of_past(db, by)
    db.commit()
    return engine_type


@pytest.fixture
def visit(db, engine_type) -> Visit:
    """A head of that type with the same work planned."""
    visit = plan(db, engine_type)
    db.commit()
    return visit


def test_a_forecast_stands_beside_the_plan_the_quote_and_the_type(client, db, visit):
    plan_page = client.page(f"/heads/{visit.tag}")
    quote = client.page(f"/jobs/{visit.job.number}/quote")
    engine = client.page(f"/engines/{visit.head.engine_type_id}")
    for page in (plan_page, quote, engine):
        assert RANGE in page.text
        assert "from 6 heads, 6 of this engine type" in page.text.replace("From", "from")
        assert CAVEAT in page.text


def test_every_case_is_listed_with_its_comparison(client, db, visit):
    page = client.page(client.page(f"/heads/{visit.tag}").links[RANGE])
    assert page.heading == "Forecast: Port, intake"
    for gain in GAINS:
        assert f"+{100 * (gain - 1):.1f} ± " in page.text
    assert "About this number" in page.text
    assert CAVEAT in page.text
    assert "Work between them: Port." in client.page(page.links["Before and after"]).text
    assert client.page(page.links["Low lift"]).heading == page.heading


def test_few_cases_give_no_forecast_and_say_how_many_there_are(client, db, by):
    engine_type = factories.create_engine_type(db)
    for day in range(4):
        cut(db, by, engine_type, 1.05, day)
    visit = plan(db, engine_type)
    db.commit()
    assert CAVEAT not in client.page(f"/heads/{visit.tag}").text
    steps = visit.operations[0].kind_id
    page = client.page(f"/engines/{engine_type.id}/forecasts/{steps}/intake")
    assert "No forecast yet: 4 past heads with this work, and it takes 5." in page.text


@pytest.mark.parametrize("path", ["9999/intake", "x/intake", "3/left", "3-/intake", "²/intake"])
def test_what_is_no_forecast_is_not_found(client, db, path):
    engine_type = factories.create_engine_type(db)
    db.commit()
    assert client.get(f"/engines/{engine_type.id}/forecasts/{path}").status_code == 404


def test_a_quote_states_it_only_where_the_shop_wants_it(client, db, visit):
    def printed() -> str:
        address = f"/jobs/{visit.job.number}/quote"
        form = dict(client.page(address).form().form_values()) | {"look": "Preview PDF"}
        answer = client.post(address, data=form)
        with pymupdf.open(stream=answer.data) as pdf:
            return " ".join("".join(page.get_text() for page in pdf).split())

    assert "nine of ten" not in printed()
    house_style.change(db, BY, house_style.the_style(db), {**style(db), "quote_forecasts": True})
    db.commit()
    text = printed()
    words = f"{visit.tag}: Port, intake: {RANGE} in nine of ten, from 6 heads"
    assert words in text
    assert CAVEAT in text


def style(db) -> dict[str, object]:
    row = house_style.the_style(db)
    return {name: getattr(row, name) for name in house_style.SPECIFICATION}


def test_outcomes_are_counted_and_drawn(client, db, by, visit):
    flow_test(db, at(by, 20), visit)
    operations.start(db, at(by, 21), visit.operations[0])
    db.commit()
    address = "/reports/forecasts?from=2026-01-01&to=2026-12-31"
    page = client.page(address)
    assert "1 of 1 inside" in page.text
    assert "Not tested yet" in page.text
    sign_off(db, at(by, 22), visit)
    flow_test(db, at(by, 23), visit, 1.2)
    db.commit()
    page = client.page(address)
    assert "1 of 2 inside; nine of ten expected." in page.text
    assert "outside" in page.text
    rows = client.get("/reports/forecasts.csv?from=2026-01-01&to=2026-12-31").text.splitlines()
    assert len(rows) == 3
    assert rows[2].endswith(",no")


def test_past_heads_are_each_forecast_from_the_others_and_drawn(client, db, engine_type):
    """By hand: the gain of each head against the forecast from a list without it."""
    page = client.page("/reports/forecasts")
    cases = db.scalars(select(GainCase).where(GainCase.part == WHOLE)).all()
    assert len(cases) == len(GAINS)
    inside = 0
    for own in cases:
        others = [
            Case(engine_type.id, case.log_gain, case.standard_uncertainty)
            for case in cases
            if case is not own
        ]
        expected = forecast(others, engine_type.id)
        assert expected is not None
        inside += expected.holds(own.log_gain)
        assert sentences.forecast_range(expected) in page.text
        assert own.job_head.tag in page.text
    assert f"{inside} of {len(cases)} inside; nine of ten expected." in page.text
    assert "Past heads, each forecast from the others" in page.text


def test_too_few_past_heads_are_not_checked(client, db):
    assert "Not yet: a past head is checked when" in client.page("/reports/forecasts").text


def test_an_empty_period_says_when_a_forecast_is_kept(client, db):
    page = client.page("/reports/forecasts")
    assert "No forecast was made in this period." in page.text
    wrong = client.page("/reports/forecasts?from=nonsense", 422)
    assert "Correct the period to see the report." in wrong.text
    assert client.get("/reports/forecasts.csv?from=nonsense").status_code == 302
