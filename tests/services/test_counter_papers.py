"""Labels and bench cards, filled from the records."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy.orm import Session

from shopflow.services.actor import Actor
from shopflow.services.paperwork import bench_cards, labels
from shopflow.services.shop import house_style
from tests import factories
from tests.services.expecting import faults_at


def test_a_label_says_whose_and_what_the_head_is(db: Session, by: Actor):
    factories.create_shop(db, web_address="https://shop.example")
    visit = factories.create_visit(
        db, customer=factories.create_customer(db, name="Mara von Oslund"), promised_on="2026-04-01"
    )
    (tag,) = labels.sheet(db, [visit]).tags
    assert (tag.tag, tag.customer, tag.casting) == (visit.tag, "Mara von Oslund", "HC 4417 208")
    assert tag.url == f"https://shop.example/heads/{visit.tag}"
    assert tag.promised == "2026-04-01"
    style = house_style.the_style(db)
    house_style.change(db, by, style, {"label_name": "initials", "label_size": "4x6"})
    sheet = labels.sheet(db, [visit], copies=3)
    assert (sheet.label, len(sheet.tags)) == ("4x6", 3)
    assert sheet.tags[0].customer == "M. v. O."


@pytest.mark.parametrize(
    ("arguments", "field"),
    [({"label": "A5"}, "label"),
     ({"start": 2, "label": "62x29"}, "start"), ({"copies": 0}, "copies")],
)  # fmt: skip
def test_what_cannot_be_printed_is_refused(db: Session, arguments: dict[str, Any], field: str):
    visit = factories.create_visit(db)
    with faults_at(field):
        labels.sheet(db, [visit], **arguments)


@pytest.mark.parametrize(
    ("lift", "count", "last"),
    [("0.450 in", 9, "0.450 in"), ("11.4 mm", 11, "11.0 mm"), ("1.2 cm", 0, ""), ("", 0, "")],
)
def test_a_card_has_even_lifts_up_to_what_the_engine_will_see(
    db: Session, lift: str, count: int, last: str
):
    visit = factories.create_visit(db, intake_lift=lift)
    (head,) = bench_cards.bench_card(db, visit.job).heads
    assert len(head.lifts) == count
    assert not last or head.lifts[-1] == last


def test_a_card_repeats_the_lifts_and_sizes_of_the_last_test(db: Session):
    visit = factories.create_visit(db)
    row = factories.create_session(db, visit)
    (head,) = bench_cards.bench_card(db, visit.job).heads
    assert len(head.lifts) == len(row.lifts)
    assert head.sizes[0].intake == row.head_diameter.text
    assert head.sizes[0].exhaust == ""
