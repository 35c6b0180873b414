"""Engine types in the browser, and looking past jobs up by them."""

from __future__ import annotations

import pytest
from sqlalchemy import select

from shopflow.models import EngineType
from shopflow.services.registry import engine_types
from tests.factories import create_customer, create_engine_type, create_head, create_job
from tests.optional import present
from tests.web.client import words

FULL = {
    "builder": "Hollin",
    "family": "K18-T",
    "aliases": "the eighteen\nK18 turbo",
    "displacement": "1792 cm3",
    "bore": "80.5 mm",
    "stroke": "3.465 in",
    "cylinders": "4",
    "valves_per_cylinder": "5",
    "cooling": "air",
    "fuel": "petrol",
    "notes": "Twin cams.",
}


def test_a_new_engine_type_is_kept_and_shown_as_typed(client, db):
    page = client.submit("/engines/new", FULL)
    assert page.heading == "Hollin K18-T"
    assert "80.5 mm × 3.465 in" in page.text
    assert "1792 cm³" in page.text
    (stored,) = engine_types.list_all(db)
    bore, stroke = present(stored.bore), present(stored.stroke)
    assert (bore.text, stroke.text) == ("80.5 mm", "3.465 in")
    assert stroke.si == pytest.approx(0.088011)
    assert [alias.name for alias in stored.aliases] == ["K18 turbo", "the eighteen"]


def test_changing_one_starts_from_what_is_on_file(client, db):
    engine_type = create_engine_type(db, **FULL)
    page = client.page(f"/engines/{engine_type.id}/change")
    shown = {name: page.value(name) for name in FULL}
    assert shown == {**FULL, "aliases": "K18 turbo\nthe eighteen"}
    client.submit(page, {"aliases": "K18 turbo, eighteen", "bore": ""})
    assert engine_type.bore is None
    assert sorted(alias.name for alias in engine_type.aliases) == ["K18 turbo", "eighteen"]


@pytest.mark.parametrize(
    ("field", "typed", "message"),
    [
        ("builder", "", "Required: enter a value"),
        ("displacement", "1792 mm", "'mm' is a unit of length, not of volume"),
        ("displacement", "0 cm3", "'0 cm3' must be more than 0"),
        ("bore", "eighty mm", "'eighty mm' is not a number and a unit, as '44 mm'"),
        ("bore", "1e999 mm", "'1e999 mm' is too large a number"),
        ("bore", "-3 in", "'-3 in' must be more than 0"),
        ("cylinders", "four", "'four' is not a whole number"),
        ("cylinders", "0", "'0' is out of range: enter a whole number from 1 to 1000000"),
        ("valves_per_cylinder", "1", "'1' is out of range: enter a whole number from 2 to 1000000"),
        ("aliases", "x" * 101, "Too long: enter at most 100 characters per name"),
    ],
)
def test_a_fault_shows_at_its_field_and_nothing_typed_is_lost(client, db, field, typed, message):
    page = client.submit("/engines/new", {**FULL, field: typed}, status=422)
    assert message in page.fault(field)
    assert {name: page.value(name) for name in FULL} == {**FULL, field: typed}
    assert engine_types.list_all(db) == []


def test_a_bare_number_is_in_the_unit_shown_and_units_are_written_as_people_write_them(
    client, db, shop
):
    page = client.page("/engines/new")
    assert words(page.tree.get_element_by_id("bore-unit")) == "in"
    assert "bore-unit" in page.tree.get_element_by_id("bore").get("aria-describedby")
    typed = {**FULL, "bore": "4,06", "stroke": "3-3/8", "displacement": "342 Cu In"}
    client.submit("/engines/new", typed)
    row = db.scalars(select(EngineType)).one()
    assert [str(row.bore), str(row.stroke), str(row.displacement)] == [
        "4.06 in", "3.375 in", "342 in3",
    ]  # fmt: skip
    # What brings its unit along stands alone in its box.
    page = client.page(f"/engines/{row.id}/change")
    assert page.value("bore") == "4.06 in"
    assert not page.tree.xpath("//*[@id='bore-unit']")
    shop.unit_system = "si"
    db.commit()
    assert words(client.page("/engines/new").tree.get_element_by_id("bore-unit")) == "mm"


def test_several_faults_show_at_once(client):
    typed = {**FULL, "bore": "81 kg", "stroke": "x", "cylinders": "", "builder": ""}
    page = client.submit("/engines/new", typed, status=422)
    assert all(page.fault(name) for name in ("bore", "stroke", "cylinders", "builder"))


def test_the_same_engine_twice_is_refused(client, db):
    create_engine_type(db, builder="Hollin", family="K18-T")
    page = client.submit("/engines/new", FULL, status=422)
    assert page.fault("family") == "Hollin K18-T exists already: use that one"


@pytest.mark.parametrize("text", ["holin k18", "K18T", "eighteen", "1.8", "1800 cc", "HOLLIN"])
def test_an_engine_type_is_found_however_it_is_called(client, db, text):
    create_engine_type(db, **FULL)
    create_engine_type(db, builder="Aldermoor", family="Vee 336", displacement="336 in3")
    (row,) = client.page(f"/engines?q={text}").rows
    assert row[0] == "Hollin K18-T K18 turbo, the eighteen"


def test_an_unknown_engine_is_said_to_be_unknown(client, db):
    create_engine_type(db, **FULL)
    assert "No engine types match “zeppelin”" in (client.page("/engines?q=zeppelin").text)


def test_its_page_lists_every_past_job_of_it(client, db):
    engine_type = create_engine_type(db, builder="Hollin", family="K18-T")
    customer = create_customer(db, name="Orla Finch")
    job = create_job(db, customer, engine_type, head_count=2)
    create_job(db, engine_type=create_engine_type(db, builder="Aldermoor"))
    rows = client.page(f"/engines/{engine_type.id}").rows
    assert [row[0].split()[0] for row in rows] == [f"{job.number}-A", f"{job.number}-B"]
    assert [row[1] for row in rows] == ["Orla Finch", "Orla Finch"]


def test_past_jobs_are_looked_up_by_engine_casting_and_customer(client, db):
    engine_type = create_engine_type(db, builder="Hollin", family="K18-T")
    job = create_job(db, create_customer(db, name="Orla Finch"), engine_type)
    create_job(db, create_customer(db, name="Wren Motors"))
    serial = job.heads[0].head.serial
    for text in ("K18-T", "orla finch", "Finsh", job.number):
        (row,) = client.page(f"/look-up?q={text}").rows
        assert row[0].startswith(f"{job.number}-A Hollin K18-T"), text
        assert serial in row[0]
    assert "No past job matches" in client.page("/look-up?q=zeppelin").text


def test_a_look_up_says_how_it_was_understood(client, db):
    create_job(db, induction="turbocharged")
    page = client.page("/look-up?q=turbocharged")
    assert "Understood as: Turbocharged, any engine." in page.text
    assert len(page.rows) == 1
    assert "Understood as: Seat angle 39°, any engine." in client.page("/look-up?q=39 deg").text
    assert "Understood as" not in client.page("/look-up").text


def test_the_page_of_a_head_tells_its_life(client, db):
    first = create_job(db, create_customer(db, name="Orla Finch"))
    head = first.heads[0].head
    page = client.page(f"/heads/{head.id}")
    assert page.heading == f"{head.engine_type.title} head"
    assert "Orla Finch" in page.links
    assert f"{first.number}-A" in page.links
    assert "More flow, street manners kept" in page.text


def test_a_head_is_changed(client, db):
    head = create_head(db)
    client.submit(f"/heads/{head.id}/change", {"material": "aluminium", "serial": "S9"})
    assert (head.material, head.serial) == ("aluminium", "S9")
    page = client.submit(f"/heads/{head.id}/change", {"serial": "x" * 101}, status=422)
    assert page.fault("serial") == "101 characters is too long: enter at most 100"
