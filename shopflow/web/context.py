"""Context of every page: the shop, its day, its units."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from flask import Flask, g

from shopflow import sentences
from shopflow.documents import countries
from shopflow.models import Shop
from shopflow.services.shop.settings import shop_or_none, unit_system, zone
from shopflow.units import US_CUSTOMARY, UnitSystem
from shopflow.web.auth import current_person
from shopflow.web.db import db


def init_app(app: Flask) -> None:
    """Let templates use it."""
    app.context_processor(_shared)


def current_shop() -> Shop | None:
    """The shop; none before it is set up."""
    if "shop" not in g:
        g.shop = shop_or_none(db())
    shop: Shop | None = g.shop
    return shop


def system() -> UnitSystem:
    """The units figures are shown in."""
    shop = current_shop()
    return unit_system(shop) if shop else US_CUSTOMARY


def local_zone() -> ZoneInfo:
    """The shop's time zone."""
    shop = current_shop()
    return zone(shop) if shop else ZoneInfo("UTC")


def today() -> date:
    """The date in the shop."""
    return datetime.now(local_zone()).date()


def minute_of_day() -> int:
    """Minutes after midnight in the shop."""
    now = datetime.now(local_zone())
    return 60 * now.hour + now.minute


def _shared() -> dict[str, Any]:
    return {
        "shop": current_shop(),
        "person": current_person(),
        "compared": sentences.COMPARED,
        "shown_as": sentences.FLOW_SHOWN,
        "eu": countries.EU,
    }
