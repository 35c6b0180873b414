"""Two people at one record: what only one changed is merged, what both changed is chosen.

Every form that edits a record has its row here, on both databases; the signature on a draft, which
must never be merged, has its own test in `test_certificates.py`.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import timedelta
from importlib import import_module
from pathlib import Path

import pytest
from flask import Flask
from sqlalchemy.orm import Session

from shopflow import create_app
from shopflow.config import DATABASE_FILE, Settings
from shopflow.database import open_engine, session_factory
from shopflow.files import FileStore
from shopflow.models import Fuel, Induction, JobState, LineKind, Role, User
from shopflow.services.accounts import users
from shopflow.services.billing import job_lines, price_list, reminders
from shopflow.services.certificates import drafts
from shopflow.services.counter import booking
from shopflow.services.engine import engine_results, ranges
from shopflow.services.hand_off import notes
from shopflow.services.jobs import jobs
from shopflow.services.measuring import integrity_tests, measurements
from shopflow.services.measuring.measurements import kind_by_code
from shopflow.services.parts import catalog, suppliers
from shopflow.services.registry import lift_lists
from shopflow.services.registry.attachments import Upload
from shopflow.services.registry.attachments import add as add_files
from shopflow.services.routing import holds, operation_kinds, operations, work_plans
from shopflow.services.springs import records
from shopflow.web.app import NOUNS
from shopflow.web.certificates.drafts.forms import CheckForm
from shopflow.web.forms import EditForm
from tests import factories, photos
from tests.factories import BY
from tests.postgres import Server
from tests.web.client import Client, Page, client_of
from tests.web.conftest import put_under

Addressing = Callable[[Session], str]


@dataclass(frozen=True)
class Row:
    """A form, a record to open it over, a field two people change, and one that one changes."""

    address: Addressing
    field: str
    first: str
    second: str
    other: str = ""
    """A field only the first changes; empty where the form has one field."""

    other_value: str = ""


def _customer(db: Session) -> str:
    return f"/customers/{factories.create_customer(db).id}/change"


def _job(way: str) -> Addressing:
    return lambda db: f"/jobs/{factories.create_job(db).number}/{way}"


def _priced(db: Session) -> str:
    return f"/jobs/{factories.create_operation(db).job_head.job.number}/approve"


def _stay(way: str) -> Addressing:
    return lambda db: f"/heads/{factories.create_visit(db).tag}/{way}"


def _operation(way: str) -> Addressing:
    return lambda db: f"/steps/{factories.create_operation(db).id}/{way}"


def _head(db: Session) -> str:
    return f"/heads/{factories.create_head(db).id}/change"


def _engine(db: Session) -> str:
    return f"/engines/{factories.create_engine_type(db).id}/change"


def _cam(db: Session) -> str:
    return f"/cams/{factories.create_cam(db).id}/change"


def _seat(db: Session) -> str:
    row = factories.create_seat_profile(db, factories.create_planned_visit(db))
    assert row.job_head is not None
    return f"/heads/{row.job_head.tag}/seats/1/intake/1/after"


def _fixture(db: Session) -> str:
    return f"/fixtures/{factories.create_fixture(db).id}/change"


def _bench(db: Session) -> str:
    return f"/benches/{factories.create_bench(db).id}/change"


def _springs(db: Session) -> str:
    visit = factories.create_visit(db)
    points = [{"height": "40 mm", "load": "300 N"}, {"height": "30 mm", "load": "700 N"}]
    records.save(db, BY, visit, "intake", {"name": "single"}, points)
    return f"/heads/{visit.tag}/springs/intake"


def _record(db: Session) -> str:
    return f"/benches/ranges/{factories.create_bench(db).ranges[0].id}/record"


def _routing(db: Session) -> str:
    row = work_plans.save(db, BY, "Wash", "grease", [{"kind": "hot-wash"}])
    return f"/work-plans/{row.id}/change"


def _measurement(db: Session) -> str:
    kind = kind_by_code(db, "guide clearance")
    row = measurements.record(db, BY, factories.create_visit(db), kind.id, {"value": "0.0031 in"})
    return f"/measurements/{row.id}/correct"


def _hand_off(db: Session) -> str:
    visit = factories.create_visit(db)
    notes.write(db, BY, visit, {"addressee": "Tarn Motors"}, {}, [])
    return f"/heads/{visit.tag}/hand-off"


def _draft(db: Session) -> str:
    visit = factories.create_visit(db)
    session = factories.create_session(db, visit)
    draft = drafts.write(db, factories.someone(db), visit, [session], {})
    return f"/certificate-drafts/{draft.id}/change"


def _warranty(db: Session) -> str:
    past = factories.create_job(db)
    factories.approve(db, BY, past, "Cal", "by telephone")
    factories.make_ready(db, BY, past)
    jobs.move(db, BY, past, JobState.COLLECTED)
    form = booking.BookIn(
        heads=[{"head_id": past.heads[0].head_id}],
        customer_id=past.customer_id,
        returns=past.number,
        warranty={"reason": "leaks", "borne_by": "the shop"},
    )
    return f"/jobs/{booking.book_in(db, BY, form).number}/warranty"


def _ranges(db: Session) -> str:
    held = ranges.of_shop(db, Fuel.GASOLINE, Induction.NATURAL)
    ends = {
        f"{name}_{end}": quantity
        for name, pair in held.ends.items()
        for end, quantity in zip(ranges.ENDS, pair, strict=True)
    }
    ranges.save(db, BY, held, {**ends, "source": "runs"})
    return "/shop/engine-ranges/gasoline/natural"


def _result(db: Session) -> str:
    values = {"day": "2026-03-02", "kind": "dynamometer", "power": "210 hp"}
    row = engine_results.add(db, BY, factories.create_job(db), values)
    return f"/engine-results/{row.id}/change"


def _wait(db: Session) -> str:
    visit = factories.create_visit(db)
    row = holds.begin(db, BY, visit, {"wait_for": "parts", "what": "8 valves"})
    return f"/holds/{row.id}"


def _line(db: Session) -> str:
    values = {"description": "Valve guide", "unit_price": "7.85"}
    row = job_lines.add(db, BY, factories.create_job(db), LineKind.PART, values)
    return f"/lines/{row.id}/change"


def _price(db: Session) -> str:
    values = {"description": "Valve guide", "price": "7.85"}
    return f"/price-list/{price_list.add(db, BY, values).id}/change"


def _part(db: Session) -> str:
    factories.shop_or_none(db).uses_parts = True
    return f"/parts/{catalog.add(db, BY, {'number': 'EV-36', 'name': 'Valve'}).id}/change"


def _supplier(db: Session) -> str:
    factories.shop_or_none(db).uses_parts = True
    return f"/suppliers/{suppliers.add(db, BY, {'name': 'Northgate'}).id}/change"


def _reminder(db: Session) -> str:
    values = {"days_overdue": 7, "subject": "Friendly reminder"}
    return f"/reminders/{reminders.add(db, BY, values).id}/change"


def _lifts(db: Session) -> str:
    values = {"name": "Small valves", "unit": "mm", "lifts": "1 2 3"}
    return f"/lift-lists/{lift_lists.create(db, BY, values).id}/change"


def _tested(db: Session) -> str:
    step = factories.create_operation(db, kind="pressure-test")
    values = {"medium": "water", "pressure": "4 bar", "duration": "10 min", "result": "passed"}
    return f"/integrity-tests/{integrity_tests.record(db, BY, step, values).id}/correct"


def _kind(db: Session) -> str:
    values = {"name": "Guide knurl", "usual_minutes": "20"}
    return f"/step-kinds/{operation_kinds.add(db, BY, values).id}/change"


def _stretch(db: Session) -> str:
    step = factories.create_operation(db)
    by = factories.someone(db)
    operations.start(db, by, step)
    operations.pause(db, replace(by, at=by.at + timedelta(hours=2)), step)
    return f"/times/{step.stretches[0].id}/correct"


def _move_to(db: Session) -> str:
    visit = factories.create_visit(db)
    kinds = ("teardown", "hot-wash", "flow-test")
    steps = [factories.create_operation(db, visit, kind) for kind in kinds]
    return f"/steps/{steps[0].id}/place"


def _mailbox(db: Session) -> str:
    factories.create_mailbox(db)
    return "/e-mail"


def _account(db: Session) -> str:
    return f"/people/{factories.create_person(db, Role.READER, login='third').id}"


ROWS: dict[str, Row] = {
    "ApproveForm": Row(_priced, "detail", "voice mail", "a letter"),
    "RecordForm": Row(_record, "gauge_mark", "G-2", "G-3", "division", "0.5 cfm"),
    "FixtureForm": Row(_fixture, "notes", "new brass", "old brass", "name", "S-87"),
    "BenchForm": Row(_bench, "notes", "new fan", "old fan", "name", "The long bench"),
    "CamForm": Row(_cam, "notes", "lobes measured", "from the box", "exhaust-lash", "0.012 in"),
    "CancelForm": Row(_job("cancel"), "cancel_reason", "sold the car", "cracked"),
    "ChangeForm": Row(
        _operation("change"), "instructions", "mild soap", "no caustic", "planned_minutes", "31"
    ),
    "ConditionForm": Row(_stay("condition"), "condition", "rust", "oil", "parts", "8 valves"),
    "CustomerForm": Row(_customer, "phone", "555 0111", "555 0122", "email", "a@tarn.example"),
    "DraftForm": Row(_draft, "opinions", "Fit for use", "Not fit", "departures", "None seen"),
    "EngineRangesForm": Row(_ranges, "index_low", "0.51", "0.52", "source", "runs of last season"),
    "EngineResultForm": Row(_result, "notes", "pulled well", "pinked", "fuel", "E85"),
    "EngineTypeForm": Row(_engine, "aliases", "the eight", "the nine", "fuel", "E85"),
    "HandOffForm": Row(
        _hand_off, "intake-spring_rate", "272 lbf/in", "300 lbf/in", "addressee", "Bay 2"
    ),
    "HeadForm": Row(_head, "material", "iron", "aluminium", "notes", "welded once"),
    "HouseStyleForm": Row(
        lambda db: "/shop/house-style", "tax_label", "VAT", "GST", "payment_days", "10"
    ),
    "IntegrityTestForm": Row(_tested, "pressure", "5 bar", "3 bar", "notes", "weeps"),
    "JobForm": Row(_job("change"), "fuel", "E85", "gasoline", "notes", "call first"),
    "MailboxForm": Row(_mailbox, "host", "a.example", "b.example", "port", "2526"),
    "HoursForm": Row(lambda db: "/shop/hours", "monday", "6", "7", "tuesday", "5"),
    "KindForm": Row(_kind, "usual_minutes", "25", "35", "usual_price", "40.00"),
    "LiftListForm": Row(_lifts, "lifts", "1 2 3 4", "1 2 3 5", "name", "Large valves"),
    "LineForm": Row(_line, "unit_price", "7.95", "8.05", "description", "Bronze guide"),
    "MeasurementForm": Row(_measurement, "value", "0.0032", "0.0013", "notes", "worn"),
    "PartForm": Row(_part, "price", "7.95", "8.05", "bin", "B 3"),
    "StageForm": Row(_reminder, "subject", "Reminder", "Note", "days_overdue", "9"),
    "SupplierForm": Row(_supplier, "phone", "555 0171", "555 0172", "contact", "Order desk"),
    "PriceForm": Row(_price, "price", "7.95", "8.05", "part_number", "VG-7"),
    "PersonForm": Row(_account, "name", "Ivo Tarn", "Ivo Marsh", "role", "counter"),
    "RoutingForm": Row(
        _routing, "steps-0-instructions", "mild soap", "no caustic", "notes", "for rust"
    ),
    "PlaceForm": Row(_move_to, "number", "2", "3"),
    "SpringForm": Row(_springs, "points-1-load", "710 N", "705 N", "coil_bind_height", "24 mm"),
    "StretchForm": Row(_stretch, "started_at", "2026-03-05T08:05", "2026-03-05T08:10"),
    "WaitForm": Row(
        _wait, "what", "8 valves, Tarn", "8 valves, Finch", "expected_on", "2030-01-07"
    ),
    "ShopForm": Row(lambda db: "/shop", "phone", "555 0111", "555 0122", "email", "a@tarn.example"),
    "WarrantyForm": Row(_warranty, "reason", "seat leaks", "guide worn", "borne_by", "shared"),
    "SeatForm": Row(_seat, "notes", "wide", "narrow", "cuts-0-tool", "30° cutter"),
    "SignOffForm": Row(_operation("sign-off"), "actual_minutes", "40", "50"),
    "SkipForm": Row(_operation("skip"), "skip_reason", "clean already", "no time"),
}
OUT_OF_FORM = {"FileForm", "MoveForm"}
"""Forms with a test of their own below: one needs a photo, one has buttons for fields."""


def forms_of(kind: type[EditForm] = EditForm) -> Iterator[type[EditForm]]:
    """Every form that edits a record, of those that stand for themselves."""
    for item in kind.__subclasses__():
        yield item
        yield from forms_of(item)


ON_ONE = pytest.mark.parametrize("app", ["sqlite"], indirect=True)
"""Mark for behaviour that does not depend on the database, tried on one kind of it."""


@dataclass(frozen=True)
class Standing:
    """An app that all tests share, and what gives it fresh records, where a test needs them."""

    app: Flask
    renew: Callable[[], object]


def _app(folder: Path, url: str = "") -> Flask:
    app = create_app(Settings.for_folder(folder, url))
    app.testing = True
    app.test_client_class = Client
    return app


def _set_up(url: str) -> None:
    """Put a shop and two owners into a migrated database."""
    engine = open_engine(url)
    with session_factory(engine).begin() as db:
        factories.create_shop(db)
        for name in ("Ann Marsh", "Bram Tarn"):
            factories.someone(db, name, Role.OWNER)
    engine.dispose()


@pytest.fixture(scope="module")
def on_sqlite(migrated_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Standing]:
    """The app on SQLite, with fresh records for each test."""
    folder = tmp_path_factory.mktemp("conflicts")
    template = folder / "template.db"
    shutil.copyfile(migrated_file, template)
    _set_up(f"sqlite:///{template}")
    shutil.copyfile(template, folder / DATABASE_FILE)
    app = _app(folder)
    yield Standing(app, lambda: put_under(app, template))
    app.extensions["shopflow.engine"].dispose()


@pytest.fixture(scope="module")
def on_postgresql(postgres: Server, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Standing]:
    """The app on PostgreSQL, where each test opens a record of its own and changes it once."""
    with postgres.database() as url:
        _set_up(url)
        app = _app(tmp_path_factory.mktemp("conflicts") / "shop", url)
        yield Standing(app, lambda: None)
        app.extensions["shopflow.engine"].dispose()


@pytest.fixture(params=["sqlite", "postgresql"])
def app(request: pytest.FixtureRequest) -> Flask:
    """The app with a shop and two owners, on either kind of database."""
    standing: Standing = request.getfixturevalue(f"on_{request.param}")
    standing.renew()
    return standing.app


@pytest.fixture
def db(app: Flask) -> Iterator[Session]:
    """A session on the app's database."""
    with session_factory(app.extensions["shopflow.engine"])() as session:
        yield session


@pytest.fixture
def two(app: Flask, db: Session) -> tuple[Client, Client]:
    """Ann and Bram, each at a browser."""
    return _client_of(app, db, "Ann Marsh"), _client_of(app, db, "Bram Tarn")


def _client_of(app: Flask, db: Session, name: str) -> Client:
    client = client_of(app)
    key = next(user.id for user in users.list_all(db) if user.name == name)
    person = db.get_one(User, key)
    db.commit()
    client.sign_in(person)
    return client


def _address_of(db: Session, row: Row) -> str:
    address = row.address(db)
    db.commit()
    return address


def _send(client: Client, page: Page, values: dict[str, str], status: int = 200) -> Page:
    """Fill the page's form in and press its usual button."""
    (form,) = page.tree.xpath("//main//form[input[@name='opened']]")
    action = form.get("action") or ""
    saving = [
        element.get("name")
        for element in form.xpath(".//p[@class='buttons']/input[@type='submit']")
    ]
    pressed = dict.fromkeys(saving, "1")
    return client.submit(page, {**values, **pressed}, action=action, status=status)


def test_every_form_that_edits_a_record_has_its_row():
    for noun in NOUNS:
        import_module(f"shopflow.web.{noun}.routes")
    names = {item.__name__ for item in forms_of()}
    assert names - {CheckForm.__name__, "CorrectionForm"} == set(ROWS) | OUT_OF_FORM


@pytest.mark.parametrize("name", ROWS)
def test_what_both_changed_is_shown_with_who_and_chosen(two, db, name):
    row, (ann, bram) = ROWS[name], two
    address = _address_of(db, row)
    mine, theirs = bram.page(address), ann.page(address)
    needed = _needed(name)
    _send(ann, theirs, {row.field: row.first, **needed})
    page = _send(bram, mine, {row.field: row.second, **needed}, status=422)
    assert page.heading == "Someone else changed this record"
    assert "Ann Marsh" in page.text
    assert row.first in page.text
    assert row.second in page.text
    again = bram.submit(page, status=422)
    assert "Choose one of these." in again.text


@ON_ONE
@pytest.mark.parametrize("name", [name for name, row in ROWS.items() if row.other])
@pytest.mark.parametrize("choice", ["mine", "theirs"])
def test_the_choice_is_what_is_kept_and_the_rest_is_merged(two, db, name, choice):
    row, (ann, bram) = ROWS[name], two
    address = _address_of(db, row)
    mine, theirs = bram.page(address), ann.page(address)
    _send(ann, theirs, {row.field: row.first, row.other: row.other_value, **_needed(name)})
    page = _send(bram, mine, {row.field: row.second, **_needed(name)}, status=422)
    chosen = {f"choice-{page.value('choosing')}": choice}
    page = bram.submit(page, chosen)
    assert any(notice.startswith("Includes what Ann Marsh saved") for notice in page.notices)
    stored = bram.page(address)
    assert stored.value(row.field) == (row.second if choice == "mine" else row.first)
    assert stored.value(row.other) == row.other_value


@ON_ONE
@pytest.mark.parametrize("name", [name for name, row in ROWS.items() if row.other])
def test_what_only_one_changed_is_merged_and_said(two, db, name):
    row, (ann, bram) = ROWS[name], two
    address = _address_of(db, row)
    mine, theirs = bram.page(address), ann.page(address)
    _send(ann, theirs, {row.other: row.other_value, **_needed(name)})
    page = _send(bram, mine, {row.field: row.second, **_needed(name)})
    (notice,) = [item for item in page.notices if item.startswith("Includes what")]
    assert "Ann Marsh" in notice
    stored = bram.page(address)
    assert (stored.value(row.field), stored.value(row.other)) == (row.second, row.other_value)


def test_a_third_who_saves_while_one_chooses_is_seen_too(two, db):
    row, (ann, bram) = ROWS["CustomerForm"], two
    address = _address_of(db, row)
    mine = bram.page(address)
    _send(ann, ann.page(address), {"phone": "555 0111"})
    page = _send(bram, mine, {"phone": "555 0122"}, status=422)
    _send(ann, ann.page(address), {"phone": "555 0133"})
    page = bram.submit(page, {"choice-phone": "mine"}, status=422)
    assert "555 0133" in page.text
    bram.submit(page, {"choice-phone": "mine"})
    assert bram.page(address).value("phone") == "555 0122"


def test_a_caption_two_people_write_is_chosen(app, two, db, tmp_path):
    ann, bram = two
    store = FileStore(tmp_path)
    job = factories.create_job(db)
    values = {"caption": "", "shown_to_customer": False}
    (row,) = add_files(db, BY, store, job, None, [Upload("a.jpg", photos.jpeg())], values).stored
    db.commit()
    address = f"/files/{row.id}/change"
    mine, theirs = bram.page(address), ann.page(address)
    ann.submit(theirs, {"caption": "crack"})
    page = bram.submit(mine, {"caption": "scratch"}, status=422)
    assert ("crack" in page.text, "scratch" in page.text) == (True, True)


def test_a_job_that_someone_took_elsewhere_is_not_moved_unseen(two, db):
    ann, bram = two
    job = factories.create_job(db)
    factories.approve(db, BY, job, "Orla Finch", "by telephone")
    factories.create_session(db, job.heads[0])
    db.commit()
    address = f"/jobs/{job.number}"
    page = bram.page(address)
    ann.press(address, "Mark ready")
    ann.press(address, "Reopen work")
    page = bram.press(page, "Mark ready", status=422)
    assert page.heading == "Someone else changed this record"
    assert "in work" in page.text.lower()


@pytest.mark.parametrize("opened", ["{", "[]", '"x"', "null", '{"phone": 3}'])
def test_where_it_is_not_known_what_stood_there_one_chooses(two, db, opened):
    address = _address_of(db, ROWS["CustomerForm"])
    page = two[0].page(address)
    sent = {"opened": opened, "phone": "555 0199", "version": "7"}
    assert "555 0199" in two[0].submit(page, sent, status=422).text


def _needed(name: str) -> dict[str, str]:
    """Other required values of a form, the same in both pages."""
    return {
        "ApproveForm": {"approved_by": "Orla Finch", "approved_how": "telephone"},
        "IntegrityTestForm": {"reason": "misread"},
    }.get(name, {})
