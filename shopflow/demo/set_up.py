"""The invented shop before its first job: people, papers' look, customers, engines, benches."""

from __future__ import annotations

import secrets

from shopflow.demo.seed import Seed, Table
from shopflow.models import EngineType
from shopflow.services.accounts import users
from shopflow.services.actor import Actor
from shopflow.services.bench import bench_checks, benches, calibrations, fixtures
from shopflow.services.billing import price_list
from shopflow.services.engine import cams
from shopflow.services.measuring import kinds, limits
from shopflow.services.registry import customers, engine_types
from shopflow.services.routing import operation_kinds, work_plans
from shopflow.services.shop import house_style


def add_people(seed: Seed, by: Actor) -> dict[str, str]:
    """Accounts with passwords made up on the spot, never the same on two machines."""
    passwords = {}
    for row in seed.shop_file["people"]:
        password = secrets.token_urlsafe(9)
        person = users.create(seed.db, by, password=password, **row)
        seed.people[row["login"]] = person
        passwords[row["login"]] = password
    return passwords


def style(seed: Seed, by: Actor) -> None:
    """Set the look of the shop's documents."""
    values = dict(seed.shop_file["house_style"])
    logo = (seed.folder / values.pop("logo")).read_bytes()
    style = house_style.change(seed.db, by, house_style.the_style(seed.db), values)
    house_style.set_logo(seed.db, by, style, house_style.picture(logo))


def price(seed: Seed, by: Actor) -> None:
    """Set the shop's usual price of each kind of step."""
    for code, amount in seed.shop_file["usual_prices"].items():
        operation_kinds.change(seed.db, by, seed.steps[code], {"usual_price": amount})


def state_uncertainties(seed: Seed, by: Actor) -> None:
    """State how well the shop measures the sizes behind its flow tests."""
    for code, uncertainty in seed.shop_file["uncertainties"].items():
        kinds.change(seed.db, by, seed.figures[code], {"uncertainty": uncertainty})


def add_files(seed: Seed, by: Actor) -> None:
    """Customers, engine types, benches and routings."""
    for row in seed.read("customers.toml")["customer"]:
        key, contacts = row.pop("key"), row.pop("contact", [])
        customer = seed.customers[key] = customers.create(seed.db, by, row)
        for contact in contacts:
            customers.add_contact(seed.db, by, customer, contact)
    for row in seed.read("engines.toml")["engine_type"]:
        key, limits, cam_names = row.pop("key"), row.pop("limit", []), row.pop("cams", [])
        engine_type = seed.engine_types[key] = engine_types.create(seed.db, by, row)
        for limit in limits:
            set_limit(seed, by, engine_type, limit)
        for name in cam_names:
            cams.create(seed.db, by, engine_type, seed.cam(name))
    for row in seed.read("benches.toml")["bench"]:
        add_bench(seed, by, row)
    for row in seed.read("fixtures.toml")["fixture"]:
        add_fixture(seed, by, row)
    for row in seed.read("checks.toml")["check"]:
        check_bench(seed, row)
    for row in seed.read("routings.toml")["routing"]:
        package = {"package_price": row["package_price"]} if "package_price" in row else {}
        work_plans.save(
            seed.db, by, row["name"], row.get("notes", ""), row["step"], row.get("part", []),
            package,
        )  # fmt: skip
    for row in seed.read("prices.toml")["price"]:
        add_price(seed, by, row)


def add_price(seed: Seed, by: Actor, row: Table) -> None:
    """A price of a step or a part on the price list."""
    values = dict(row)
    if "kind" in values:
        values["kind_id"] = seed.steps[values.pop("kind")].id
    if "engine_type" in values:
        values["engine_type_id"] = seed.engine_types[values.pop("engine_type")].id
    price_list.add(seed.db, by, values)


def set_limit(seed: Seed, by: Actor, engine_type: EngineType, row: Table) -> None:
    """Set the limits of a kind of measurement on an engine type's heads."""
    values = dict(row)
    kind = seed.figures[values.pop("kind")]
    limits.set_(seed.db, by, engine_type, kind, values.pop("side", ""), values)


def add_bench(seed: Seed, by: Actor, row: Table) -> None:
    """A bench, its ranges and their calibrations."""
    ranges = row.pop("range")
    bench = benches.create(seed.db, by, row)
    for range_row in ranges:
        stated = range_row.pop("calibration", [])
        added = benches.add_range(seed.db, by, bench, range_row)
        for calibration in stated:
            for name in ("made_on", "due_on"):
                if name in calibration:
                    calibration[name] = seed.moved(calibration[name])
            calibrations.calibrate(seed.db, by, added, calibration)


def add_fixture(seed: Seed, by: Actor, row: Table) -> None:
    """A fixture of the benches, one of them archived since."""
    is_archived = row.pop("archived", False)
    fixture = fixtures.create(seed.db, by, row)
    if is_archived:
        fixtures.archive(seed.db, by, fixture)


def check_bench(seed: Seed, row: Table) -> None:
    """Record a check of a range against a plate."""
    values = dict(row)
    bench = benches.by_name(seed.db, values.pop("bench"))
    name = values.pop("range")
    ranges = [candidate for candidate in (bench.ranges if bench else []) if candidate.name == name]
    by = seed.actor(values.pop("by"), values.pop("at"))
    bench_checks.check(seed.db, by, ranges[0], values)
