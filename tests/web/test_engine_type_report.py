"""The report of an engine type: what worked on its past heads, on page and paper."""

from __future__ import annotations

import pymupdf
import pytest
from sqlalchemy import select

from shopflow import sentences
from shopflow.models import EngineType, Visit
from shopflow.services.actor import Actor
from shopflow.services.analysis import engine_type_report, gains
from tests import factories
from tests.factories import BY
from tests.optional import present
from tests.past_heads import GAINS, cut, shop_of_past


@pytest.fixture
def by(db) -> Actor:
    return factories.someone(db)


@pytest.fixture
def engine_type(db, by) -> EngineType:
    """A type of which six heads were ported, each tested as received and after it."""
    engine_type = shop_of_past(db, by)
    for visit in db.scalars(select(Visit)):
        visit.sessions[-1].after_operation = visit.operations[-1]
    db.commit()
    return engine_type


def test_gains_are_those_the_heads_were_cut_to(db, engine_type):
    content = engine_type_report.report(db, engine_type, BY.at)
    (gain,) = content.gains
    low, high = (100.0 * (factor - 1.0) for factor in (min(GAINS), max(GAINS)))
    assert (gain.steps, gain.side, gain.heads) == ("Port", "intake", len(GAINS))
    assert gain.seen == f"+{low:.1f} to +{high:.1f} %"
    assert gain.expected == "+2 to +8 %"


def test_the_best_heads_are_ranked_by_flow_each_once(db, engine_type):
    content = engine_type_report.report(db, engine_type, BY.at)
    intake, exhaust = content.sides
    assert intake.heads == len(GAINS)
    assert not exhaust.best
    flows = [head.mean_flow for head in intake.best]
    assert flows == sorted(flows, reverse=True)
    assert len({head.tag for head in intake.best}) == engine_type_report.MOST_HEADS
    # The head that gained most from one start is the best; the ± is that of the comparison.
    best = db.scalars(select(Visit).where(Visit.tag == intake.best[0].tag)).one()
    mean = present(present(gains.over_first(best.sessions[-1])).areas.mean)
    assert intake.best[0].gain == sentences.percent(mean)
    assert intake.best[0].gain.startswith(f"+{100 * (max(GAINS) - 1):.1f} ± ")
    assert intake.best[0].steps == "Port"
    # Of 0.05 to 0.45 in the last has the most: 0.45 in is 11.43 mm.
    assert intake.best[0].peak_lift == pytest.approx(0.01143)


def test_a_gain_of_one_head_has_its_uncertainty_and_forecasts_nothing(db, by):
    other = factories.create_engine_type(db, family="Lone Four")
    cut(db, by, other, 1.05, 0)
    (gain,) = engine_type_report.report(db, other, BY.at).gains
    # The same ± as where the two tests are compared.
    last = db.scalars(select(Visit)).one().sessions[-1]
    assert gain.seen == sentences.percent(present(present(gains.over_first(last)).areas.mean))
    assert gain.seen.startswith("+5.0 ± ")
    assert gain.expected == ""


def test_page_and_paper_say_the_same_and_lead_to_what_they_rest_on(client, db, engine_type):
    page = client.page(f"/engines/{engine_type.id}")
    page = client.page(page.links["Show what worked"])
    answer = client.get(page.links["Print (PDF)"])
    with pymupdf.open(stream=answer.data) as paper:
        printed = " ".join("".join(sheet.get_text() for sheet in paper).split())
    for words in ("+2 to +8 %, from 6 heads", "Best heads, intake", "Port"):
        assert words in page.text, words
        assert words in printed, words
    assert client.page(page.links["Port"]).heading == "Forecast: Port, intake"


def test_a_type_without_tests_after_work_says_so(client, db):
    bare = factories.create_engine_type(db, family="Untouched")
    db.commit()
    page = client.page(f"/engines/{bare.id}/report")
    assert "No head of this type was tested after work yet" in page.text
    answer = client.get(page.links["Print (PDF)"])
    with pymupdf.open(stream=answer.data) as paper:
        assert "No head of this type was tested after work yet" in paper[0].get_text()
