"""The shop's settings."""

from __future__ import annotations

from decimal import Decimal

import pytest
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopflow import texts
from shopflow.models import MeasurementKind, OperationKind
from shopflow.services.actor import Actor
from shopflow.services.shop import built_in_kinds, measurement_catalogue, settings
from tests import factories
from tests.services.expecting import assert_logged, faults_at, refused


def test_setting_up_makes_the_shop_and_its_kinds_of_work(db: Session, by: Actor):
    up = settings.set_up(db, by, {"name": " Falling Water Heads ", "tax_rate_percent": "8.250"})
    assert settings.get_shop(db) is up
    assert up.name == "Falling Water Heads"
    assert str(up.tax_rate_percent) == "8.250"
    assert (up.time_zone, up.unit_system, up.paper_size) == ("UTC", "us", "Letter")
    assert settings.language(up) == "en_US"
    codes = {kind.code for kind in built_in_kinds.operation_kinds(db)}
    assert codes == {step.code for step in built_in_kinds.OPERATIONS}
    kinds = {kind.code for kind in built_in_kinds.measurement_kinds(db)}
    assert kinds == {figure.code for figure in measurement_catalogue.KINDS}
    assert_logged(db, up, by, "set up")


def test_it_is_set_up_once(db: Session, by: Actor):
    factories.create_shop(db)
    with refused("set up already"):
        settings.set_up(db, by, {"name": "Another"})


def test_nothing_works_before_it_is_set_up(db: Session):
    assert settings.shop_or_none(db) is None
    with refused("not been set up"):
        settings.get_shop(db)


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("name", " "),
        ("name", "x" * 201),
        ("language", "en_AU"),
        ("time_zone", "Chicago"),
        ("unit_system", "imperial"),
        ("paper_size", "A3"),
        ("currency", "dollars"),
        ("web_address", "ftp://shop.example"),
        ("tax_rate_percent", "-1"),
        ("tax_rate_percent", "8.2." ),
        ("tax_rate_percent", "8." + "0" * 60),
        ("colour", "red"),
    ],
)  # fmt: skip
def test_a_setting_that_cannot_be_is_refused_at_its_field(
    sqlite_db: Session, by: Actor, field: str, value: str
):
    with faults_at(field):
        settings.set_up(sqlite_db, by, {"name": "Falling Water Heads", field: value})


def test_a_change_is_logged_from_what_to_what(db: Session, by: Actor):
    shop = factories.create_shop(db)
    settings.change(
        db,
        by,
        shop,
        {"language": "en_GB", "unit_system": "si", "currency": "eur", "tax_rate_percent": "19"},
    )
    assert settings.language(shop) == "en_GB"
    assert (shop.unit_system, shop.currency, shop.tax_rate_percent) == ("si", "EUR", Decimal(19))
    assert_logged(
        db, shop, by, "changed", language=["en_US", "en_GB"],
        unit_system=["us", "si"], currency=["USD", "EUR"], tax_rate_percent=["0", "19"],
    )  # fmt: skip


def test_texts_are_in_the_shops_language_for_a_while(db: Session):
    with settings.language_spoken(db):
        assert texts.gettext("Bar color") == "Bar color"
    factories.create_shop(db, language="en_GB")
    with settings.language_spoken(db):
        assert texts.gettext("Bar color") == "Bar colour"
    assert texts.gettext("Bar color") == "Bar color"


def test_kinds_the_shop_changed_are_left_alone(db: Session):
    factories.create_shop(db)
    kind = db.scalars(select(OperationKind).where(OperationKind.code == "port-work")).one()
    kind.name, kind.usual_price = "Porting", Decimal("700.00")
    built_in_kinds.ensure(db)
    assert (kind.name, kind.usual_price) == ("Porting", Decimal("700.00"))
    for noun, built_in in (
        (OperationKind, built_in_kinds.OPERATIONS),
        (MeasurementKind, measurement_catalogue.KINDS),
    ):
        assert db.scalar(select(func.count()).select_from(noun)) == len(built_in)
