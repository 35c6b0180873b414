"""Migrations: up from nothing, equal to the models, and back down, on both databases."""

from __future__ import annotations

import contextlib
import functools
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from alembic import command
from alembic.script import ScriptDirectory
from sqlalchemy import (
    Connection,
    Engine,
    delete,
    insert,
    inspect,
    select,
    text,
    true,
    update,
)
from sqlalchemy.engine import make_url
from sqlalchemy.engine.interfaces import DBAPICursor
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from shopflow.backup import integrity
from shopflow.backup.guards import expected_guards, guards
from shopflow.database import (
    alembic_config,
    downgrade,
    open_engine,
    session_factory,
    upgrade,
)
from shopflow.models import (
    ApiRequest,
    ApiToken,
    Base,
    Bench,
    BenchDay,
    BenchRange,
    BenchSession,
    Bookkeeping,
    CalendarFeed,
    Capture,
    Collection,
    DeliveryState,
    EngineLimit,
    EngineType,
    Fixture,
    FixtureKind,
    HandedOver,
    Hold,
    Invoice,
    Job,
    JobLine,
    LeakCheck,
    LedgerAccount,
    LookupText,
    MeasurementKind,
    OpeningHours,
    Operation,
    OutgoingMail,
    OutsideWork,
    PlateExchange,
    ReceivedPart,
    Release,
    Reminder,
    ReminderStage,
    SetUpConfirmation,
    Supplier,
    User,
    Visit,
    WaitFor,
    WarrantyReturn,
    Webhook,
    WebhookDelivery,
    lookup_text,
)
from shopflow.models.lookup_text import TRIGRAMS
from shopflow.models.session_stamp import SESSION_STAMP
from shopflow.services.bench.summaries import flow_shown
from shopflow.services.export.columns import MADE_OF_OTHERS
from shopflow.services.registry import castings
from shopflow.services.search import past_jobs
from shopflow.units import Quantity
from tests import factories
from tests.demo_shop import DemoShop
from tests.postgres import Server

MADE_ANEW = MADE_OF_OTHERS | {
    *("approval", "approval_line"),
    *("ledger_entry", "ledger_posting"),
}
"""Tables that a migration fills from others."""


@dataclass(frozen=True)
class Rows:
    """The rows of a table as the driver gives them, and the columns they have."""

    columns: list[str]
    rows: list[Any]

    def named(self) -> list[dict[str, Any]]:
        """The rows by their columns."""
        return [dict(zip(self.columns, row, strict=True)) for row in self.rows]

    def changed(self, values: dict[int, dict[str, Any]]) -> Rows:
        """The rows with some values in place of theirs, by the rows' keys."""
        rows = [row | values.get(row["id"], {}) for row in self.named()]
        return Rows(self.columns, [tuple(row.values()) for row in rows])


Content = dict[str, Rows]
"""Rows by table."""


@functools.cache
def revisions() -> list[Any]:
    """Every revision, the latest first."""
    return list(ScriptDirectory.from_config(alembic_config()).walk_revisions())


def tables(engine: Engine) -> set[str]:
    """Names of the tables that are there, but Alembic's own and those that triggers keep."""
    return set(filter(is_the_shops, inspect(engine).get_table_names()))


def is_the_shops(name: str) -> bool:
    """True where a table holds the shop's own records."""
    return name != "alembic_version" and not name.startswith((TRIGRAMS, SESSION_STAMP))


def goes_down_and_up(engine: Engine, revision: str) -> set[str]:
    """Take a database down to before a revision and up: what it held there is as it was.

    Gives the tables that were gone meanwhile; but for those made of others they come up empty.
    """
    before = content(engine)
    downgrade(engine, before_revision(revision))
    there = columns(engine)
    upgrade(engine)
    assert_kept(before, content(engine), there, revision)
    return before.keys() - there.keys()


NEWER_REFERENCES = {
    "decision": ("integrity_test_id",),
    **dict.fromkeys(("approval_line", "invoice_line", "quote_line"), ("job_line_id",)),
}
"""Columns by which a row of an older table hangs on one of a newer table."""


DERIVED = {
    "bench_session": ("mean_area", "peak_area", "mean_flow", "peak_flow", "gain_over_first"),
    "gain_case": ("id", "saved_at"),
}
"""Columns calculated from the readings once a database is at the last revision; a gain that unlike
set-ups kept back is one again where they are lost."""

MEAN_FACTORS = {"CB-MID-26": "0.995463"}
"""Factors of calibrations by points once they went below revision 0032. By hand, of 110 L/s:
(21.4/22 + 38.2/38.5 + 55.3/55 + 72/71.5 + 88.1/88 + 103.9/104.5)/6 = 0.995463."""


def assert_kept(
    before: Content, after: Content, there: dict[str, list[str]], revision: str
) -> None:
    """Check that older tables and columns are as before; newer tables are empty or derived.

    A row that refers to a newer table is deleted with it. A calibration by points has become their
    mean factor where its points have no columns; a distance along a port, but for an area's, words.
    """
    if "readings" not in there.get("calibration", ["readings"]):
        before = {**before, "calibration": by_mean_factor(before["calibration"])}
    if "datum" not in there.get("measurement", ["datum"]):
        before = {**before, "measurement": in_words(before)}
    if "scopes" not in there.get("api_token", ["scopes"]):
        before = {**before, "api_token": without_scopes(before["api_token"])}
    for name, columns in there.items():
        # A table that is gone by now has nothing to keep; what is equal needs no sorting.
        if name == "gain_case" and not after[name].rows:
            # 0066 leaves them to be calculated again when the program starts.
            continue
        if name in after and before.get(name) != after[name]:
            held, holds = (_older(name, rows, columns) for rows in (before[name], after[name]))
            assert holds == held, f"{name}, revision {revision}"
    newer = after.keys() - there.keys() - MADE_ANEW
    assert not [name for name in newer if after[name].rows], f"revision {revision}"


def _older(table: str, held: Rows, columns: list[str]) -> list[list[Any]]:
    """These columns of a table, but what is calculated, of rows that hang on no newer table."""
    references = NEWER_REFERENCES.get(table, ())
    kept = all(column in columns for column in references)
    compared = [column for column in columns if column not in DERIVED.get(table, ())]
    rows = [
        [row.get(column) for column in compared]
        for row in held.named()
        if kept or not any(row.get(column) for column in references)
        # The ledger's own series goes and comes with its entries.
        if row.get("series") != "ledger"
    ]
    return sorted(rows, key=repr)


def without_scopes(held: Rows) -> Rows:
    """Tokens as they are after they went below revision 0063: those of few scopes are revoked."""
    rows = [
        row
        if row["revoked_at"] or {"read", "money"} <= set(row["scopes"].split())
        else {**row, "revoked_at": row["made_at"]}
        for row in held.named()
    ]
    return Rows(held.columns, [tuple(row.values()) for row in rows])


def by_mean_factor(held: Rows) -> Rows:
    """Calibrations as they are after they went below revision 0032."""
    rows = [
        {**row, "factor": MEAN_FACTORS[row["identifier"]]} if row.get("readings") else row
        for row in held.named()
    ]
    return Rows(held.columns, [tuple(row.values()) for row in rows])


def in_words(before: Content) -> Rows:
    """Measurements as they are after they went below revision 0004, which brings back the distance
    of an area alone."""
    areas = {row["id"] for row in before["measurement_kind"].named() if row["code"] == "port area"}
    held = before["measurement"]
    words = {"valve seat": "valve seat", "port flange": "flange"}
    rows = [
        {**row, "place": f"{row['distance_typed']} from the {words[row['datum']]}"}
        if row.get("datum") in words and row["kind_id"] not in areas
        else row
        for row in held.named()
    ]
    return Rows(held.columns, [tuple(row.values()) for row in rows])


def columns(engine: Engine) -> dict[str, list[str]]:
    """The columns of every table there is now."""
    return {name: held.columns for name, held in content(engine, "LIMIT 0").items()}


def content(engine: Engine, limit: str = "") -> Content:
    """Every row of every table there is; no time goes into reflecting types.

    But for the log of records, which a shop that comes up gets anew.
    """
    names = sorted(name for name in tables(engine) if not name.startswith("record_log"))
    with contextlib.closing(engine.raw_connection()) as connection:
        return {name: _rows_in(connection.cursor(), name, limit) for name in names}


def _rows_in(cursor: DBAPICursor, name: str, limit: str) -> Rows:
    """Every row of a table, as the driver gives it."""
    cursor.execute(f'SELECT * FROM "{name}" {limit}')
    return Rows([column[0] for column in cursor.description], list(cursor.fetchall()))


def named_rows(engine: Engine, table: str) -> list[dict[str, Any]]:
    """Every row of a table, by its columns."""
    with contextlib.closing(engine.raw_connection()) as connection:
        return _rows_in(connection.cursor(), table, "").named()


def copy_rows(demo: Connection, target: Connection) -> None:
    """Every row of the invented shop, through the models' own types."""
    for table in Base.metadata.sorted_tables:
        rows = [dict(row) for row in demo.execute(select(table)).mappings()]
        if rows:
            target.execute(insert(table), rows)


def take_out_pressures(engine: Engine) -> None:
    """Leave no run a pressure of its own: revision 0003 refuses to lose them on its way down."""
    with engine.begin() as connection:
        connection.execute(text("UPDATE bench_session SET pressure_unit = ''"))
        connection.execute(text("UPDATE reading SET pressure_typed = NULL, pressure_si = NULL"))


def fill(url: str, demo_shop: DemoShop) -> None:
    """Put the whole invented shop into a migrated database."""
    demo, engine = open_engine(f"sqlite:///{demo_shop.folder / 'shopflow.db'}"), open_engine(url)
    with demo.connect() as source, engine.begin() as target:
        copy_rows(source, target)
    demo.dispose()
    engine.dispose()


@pytest.fixture(scope="module")
def full_file(
    migrated_file: Path, demo_shop: DemoShop, tmp_path_factory: pytest.TempPathFactory
) -> Path:
    """A SQLite file with the invented shop, to be copied."""
    path = tmp_path_factory.mktemp("full") / "shopflow.db"
    shutil.copyfile(migrated_file, path)
    fill(f"sqlite:///{path}", demo_shop)
    return path


@pytest.fixture(scope="module")
def full_template(postgres: Server, demo_shop: DemoShop) -> Iterator[str]:
    """Name of a PostgreSQL database with the invented shop, to be copied."""
    with postgres.database() as url:
        fill(url, demo_shop)
        yield str(make_url(url).database)


@pytest.fixture
def full_sqlite_url(full_file: Path, tmp_path: Path) -> str:
    """A copy in SQLite."""
    path = tmp_path / "shopflow.db"
    shutil.copyfile(full_file, path)
    return f"sqlite:///{path}"


@pytest.fixture
def full_postgresql_url(postgres: Server, full_template: str) -> Iterator[str]:
    """A copy in PostgreSQL."""
    with postgres.database(full_template) as url:
        yield url


@pytest.fixture(params=["sqlite", "postgresql"])
def full(request: pytest.FixtureRequest) -> Iterator[Engine]:
    """A migrated database with the whole invented shop in it."""
    engine = open_engine(request.getfixturevalue(f"full_{request.param}_url"))
    yield engine
    engine.dispose()


def fill_up(engine: Engine) -> None:
    """Add to the invented shop what it lacks: rows of every table that a revision made."""
    with session_factory(engine).begin() as db:
        visit, person = db.scalars(select(Visit)).first(), db.scalars(select(User)).first()
        assert visit is not None
        assert person is not None
        today = factories.NOW.date()
        wait = Hold(id=9001, job_head=visit, wait_for=WaitFor.PARTS, what="guides", since=today)
        feed = CalendarFeed(person_id=person.id, token_sha256="0" * 64, made_at=factories.NOW)
        db.add_all([wait, feed, OpeningHours(people_at_bench=3)])
        person.search_key = False
        engine_type = db.scalars(select(EngineType).limit(1)).one()
        kind = db.scalars(select(MeasurementKind).limit(1)).one()
        limit = Quantity("1 mm", 0.001)
        db.add(EngineLimit(id=9001, engine_type_id=engine_type.id, kind=kind, upper=limit))
        step = db.scalars(select(Operation).where(Operation.again_because != "")).one()
        step.release = Release(person=person, at=factories.NOW, reason="he is away")
        db.add_all(what_came_with_0012(*db.scalars(select(Job).order_by(Job.id).limit(2))))
        db.add_all(what_came_with_0060(*db.scalars(select(BenchSession).limit(2))))
        db.add_all(what_came_with_0061(db.scalars(select(BenchRange).limit(1)).one()))
        line = db.scalars(select(JobLine.id).limit(1)).one()
        supplier = db.scalars(select(Supplier.id).limit(1)).one()
        db.add(OutsideWork(id=9001, job_line_id=line, supplier_id=supplier, sent_on=today))
        invoice = db.scalars(select(Invoice).limit(1)).one()
        db.add_all(what_came_with_0070(invoice, db.scalars(select(OutgoingMail).limit(1)).one()))
        what_programs_left(db, visit)
        what_came_with_0077(db)


def what_came_with_0012(job: Job, past: Job) -> list[Base]:
    """A row of each table."""
    return [
        ReceivedPart(id=9001, job_head_id=job.heads[0].id, position=99, name="cam", count=2),
        WarrantyReturn(id=9001, job_id=job.id, from_job_id=past.id, reason="leaks"),
        Collection(job_id=job.id, how=HandedOver.COLLECTED, handed_on=factories.NOW.date(),
                   handed_to="Orla", parts=[], papers=[], recorded_at=factories.NOW),
    ]  # fmt: skip


def what_came_with_0060(first: BenchSession, other: BenchSession) -> list[Base]:
    """A fixture, and a confirmation."""
    return [
        Fixture(id=9001, kind=FixtureKind.HEADER, name="H-9001"),
        SetUpConfirmation(
            id=9001, session_id=other.id, other_id=first.id, is_same=False, reason="the header",
            confirmed_at=factories.NOW,
        ),
    ]  # fmt: skip


def what_came_with_0061(scale: BenchRange) -> list[Base]:
    """A row of each table."""
    flow, ratio, pressure = (
        Quantity("100 cfm", 0.047), Quantity("1 %", 0.01), Quantity("28 inH2O", 6974.5),
    )  # fmt: skip
    return [
        BenchDay(id=9001, bench_id=scale.bench_id, day=factories.NOW.date(), minutes=20,
                 at=factories.NOW),
        LeakCheck(id=9001, bench_range_id=scale.id, at=factories.NOW, pressure=pressure,
                  leakage=flow),
        PlateExchange(id=9001, bench_range_id=scale.id, at=factories.NOW, plate="2",
                      other_shop="Tarn Heads", measured_on=factories.NOW.date(),
                      pressure=pressure, own_flow=flow, own_uncertainty=ratio, their_flow=flow,
                      their_uncertainty=ratio),
    ]  # fmt: skip


def what_came_with_0070(invoice: Invoice, mail: OutgoingMail) -> list[Base]:
    """A row of each table."""
    return [
        Bookkeeping(columns=[["day", "Date"]]),
        LedgerAccount(id=9001, key="receivables", code="1400", name="Receivables"),
        ReminderStage(id=9001, days_overdue=400, subject="Overdue", body="Please pay."),
        Reminder(id=9001, invoice_id=invoice.id, days_overdue=400, mail_id=mail.id,
                 at=factories.NOW),
    ]  # fmt: skip


def what_programs_left(db: Session, visit: Visit) -> None:
    """A token of a bench, a request that it sent, and a reading that it posted.

    It is revoked already, and so is the simulated bench's: on the way down those of a bench are,
    since all of them read there.
    """
    for earlier in db.scalars(select(ApiToken)):
        earlier.revoked_at = earlier.made_at
    bench = db.scalars(select(Bench).limit(1)).one()
    token = ApiToken(
        id=9001, name="agent", token_sha256="1" * 64, made_at=factories.NOW, scopes="bench",
        expires_at=factories.NOW + timedelta(days=30), bench=bench, revoked_at=factories.NOW,
    )  # fmt: skip
    db.add(token)
    db.flush()
    db.add(ApiRequest(token_id=9001, key_sha256="2" * 64, content_sha256="3" * 64, status=201,
                      location="", answer="{}", at=factories.NOW))  # fmt: skip
    db.add(Capture(id=9001, job_head_id=visit.id, entry_key="a-test", bench_id=bench.id,
                   token_id=9001, taken_at=factories.NOW, received_at=factories.NOW,
                   lift="0.3 in", cells={}, channels=[], doubts=[]))  # fmt: skip


def what_came_with_0077(db: Session) -> None:
    """A webhook, and a message that was posted to it."""
    db.add(Webhook(id=9001, url="https://office.example/", events="flow_test.saved", cursor=1,
                   secret_sealed="sealed", made_at=factories.NOW,
                   next_try_at=factories.NOW))  # fmt: skip
    db.flush()
    db.add(WebhookDelivery(id=9001, webhook_id=9001, message_id="msg_1", event="flow_test.saved",
                           body="{}", queued_at=factories.NOW, status=204,
                           state=DeliveryState.DELIVERED))  # fmt: skip


NEW = {
    "0007": {"job_file", "mail_server", "outgoing_mail", "customer_link"},
    "0009": {"time_spent", "decision", "release", "engine_limit"},
    "0010": {"wait", "calendar_feed", "opening_hours"},
    "0012": {"received_part", "collection", "warranty_return"},
    "0040": {"seat_profile", "seat_cut"},
    "0041": {"spring", "spring_point"},
    "0054": {"engine_result", "engine_forecast"},
    "0058": {"job_line"},
    "0059": {"price_entry", "routing_part"},
    "0060": {"fixture", "set_up_confirmation"},
    "0061": {"bench_day", "leak_check", "plate_exchange"},
    "0063": {"api_request"},
    "0064": {"capture"},
    "0068": {
        *("part", "supplier", "stock_movement", "part_need"),
        *("purchase_order", "purchase_order_line", "outside_work"),
    },
    "0070": {"bookkeeping", "ledger_account", "reminder", "reminder_stage"},
    "0077": {"webhook", "webhook_delivery"},
}
"""Tables that go down with their data and come up empty, by the revision that made them."""


def at_no_revision(full: Engine) -> Iterator[None]:
    """Look at nothing else; see `AT`."""
    yield from (None, None, None)


def at_repeated_steps(full: Engine) -> Iterator[None]:
    """The reason of a repeat goes into a step's notes on the way down, and comes back."""
    before = repeated_steps(full)
    ((key, reason, notes),) = (row for row in before if row.again_because)
    yield
    with full.connect() as connection:
        value = connection.scalar(text(f"SELECT notes FROM operation WHERE id = {key}"))
    assert value == f"Done again because: {reason}\n{notes}".rstrip()
    yield
    assert repeated_steps(full) == before
    yield


def at_search_keys(full: Engine) -> Iterator[None]:
    """The search key is on again."""
    query = text("SELECT DISTINCT search_key FROM person")
    with full.connect() as connection:
        assert {bool(each) for each in connection.scalars(query)} == {True, False}
    yield
    yield
    with full.connect() as connection:
        assert {bool(each) for each in connection.scalars(query)} == {True}
    yield


def at_springs(full: Engine) -> Iterator[None]:
    """Shims are a setting of the shop, and go."""
    assert named_rows(full, "shop")[0]["spring_shims"]
    yield
    yield
    assert named_rows(full, "shop")[0]["spring_shims"] == ""
    yield


AT: dict[str, Callable[[Engine], Iterator[None]]] = {
    "0009": at_repeated_steps,
    "0010": at_search_keys,
    "0041": at_springs,
}
"""Checks of one revision: before it goes down, below it, and above it again."""


def test_there_is_one_line_of_revisions_and_each_goes_down():
    answer = revisions()
    assert len(ScriptDirectory.from_config(alembic_config()).get_heads()) == 1
    assert answer[-1].down_revision is None
    for revision in answer:
        assert callable(getattr(revision.module, "upgrade", None))
        assert callable(getattr(revision.module, "downgrade", None))


def triggers(engine: Engine) -> set[tuple[str, str]]:
    """Name and table of every trigger."""
    query = {
        "sqlite": "SELECT name, tbl_name FROM sqlite_master WHERE type = 'trigger'",
        "postgresql": "SELECT tgname, relname FROM pg_trigger JOIN pg_class"
        " ON tgrelid = pg_class.oid WHERE NOT tgisinternal",
    }
    with engine.connect() as connection:
        rows = connection.execute(text(query[engine.dialect.name]))
        return {(name, table) for name, table in rows}


def test_migrating_up_from_nothing_gives_the_models_tables(engine: Engine):
    downgrade(engine, "base")
    upgrade(engine)
    assert tables(engine) == set(Base.metadata.tables)
    upgrade(engine)


def test_models_and_migrations_are_equal(engine: Engine):
    with engine.begin() as connection:
        command.check(alembic_config(connection))


def test_constraints_are_those_of_the_models(engine: Engine):
    """Beyond `alembic check`: the checks, and every constraint's name."""
    migrated = constraints(engine)
    downgrade(engine, "base")
    Base.metadata.create_all(engine)
    assert constraints(engine) == migrated


def constraints(engine: Engine) -> dict[str, Any]:
    """Checks, keys and indexes of every table by name."""
    answer = inspect(engine)
    return {
        table: {
            "checks": {
                item["name"]: item["sqltext"] for item in answer.get_check_constraints(table)
            },
            "unique": {
                item["name"]: item["column_names"] for item in answer.get_unique_constraints(table)
            },
            "foreign": {
                item["name"]: (item["constrained_columns"], item["referred_table"])
                for item in answer.get_foreign_keys(table)
            },
            "indexes": {
                item["name"]: item["column_names"]
                for item in answer.get_indexes(table)
                if item["name"] != TRIGRAMS
            },
            "primary": answer.get_pk_constraint(table)["constrained_columns"],
        }
        for table in sorted(tables(engine))
    }


@pytest.mark.slow
def test_the_invented_shop_goes_down_and_up_again_revision_by_revision(full: Engine):
    """Each revision by itself; all that follow one are in `test_earlier_releases` and below."""
    fill_up(full)
    take_out_pressures(full)
    watched = {table for _, table in triggers(full)}
    assert watched >= {"certificate", "invoice", "bench_session", "job_head", "operation_kind"}
    before = content(full)
    assert len(before["bench_session"].rows) >= 40
    for revision in revisions():
        below, name = revision.down_revision or "base", revision.revision
        own = AT.get(name, at_no_revision)(full)
        next(own)
        above = triggers(full)
        downgrade(full, below)
        next(own)
        rows, stored = content(full), triggers(full)
        there = {table: held.columns for table, held in rows.items()}
        new = NEW.get(name, set())
        assert all(before[table].rows for table in new), name
        assert not new & there.keys(), name
        upgrade(full, name)
        next(own)
        after = content(full)
        assert_kept(before, after, there, name)
        assert not [table for table in new if after[table].rows], name
        assert triggers(full) == above, name
        downgrade(full, below)
        assert_kept(rows, content(full), there, f"{name}, down again")
        assert triggers(full) == stored, name
        before = rows
    assert before == {}


@pytest.mark.long
def test_the_invented_shop_goes_down_and_all_the_way_up_from_every_revision(full: Engine):
    take_out_pressures(full)
    for revision in revisions():
        gone = goes_down_and_up(full, revision.revision)
        # Under the first revision there is nothing.
        assert revision.down_revision is not None or gone == content(full).keys()


@pytest.mark.slow
def test_areas_of_tests_are_calculated_from_their_readings_on_the_way_up(full: Engine):
    chosen = "FROM bench_session ORDER BY id"
    query = text(f"SELECT id, mean_area, peak_area, gain_over_first {chosen}")
    with full.connect() as connection:
        before = [tuple(row) for row in connection.execute(query)]
    downgrade(full, "0030")
    with full.connect() as connection:
        flows = connection.execute(text(f"SELECT side, mean_flow {chosen}"))
        for (_, area, *_), (side, flow) in zip(before, flows, strict=True):
            assert flow == pytest.approx(flow_shown(area, side), rel=1e-9)
    upgrade(full)
    with full.connect() as connection:
        after = [tuple(row) for row in connection.execute(query)]
    assert [row[:3] for row in after] == [row[:3] for row in before]
    # Their set-ups are lost below 0060: what was no gain across unlike ones may be one again.
    stated = [(gain, again) for (*_, gain), (*_, again) in zip(before, after, strict=True)]
    assert all(gain in (None, again) for gain, again in stated)
    assert any(gain is not None for *_, gain in before)
    assert all(area > 0.0 for _, area, *_ in before)


POINTS = {
    "model": "quadratic", "reading_unit": "{unit}", "readings": "20 50 80", "flow_unit": "L/s",
    "flows": "20.4 50.3 79.2", "uncertainties": "1.0 0.8 0.80",
}  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize(("unit", "factor"), [("L/s", "1.005333"), ("%", "0.502667")])
def test_a_calibration_by_points_becomes_their_mean_factor(full: Engine, unit: str, factor: str):
    """By hand: (20.4/20 + 50.3/50 + 79.2/80)/3 = 1.005333, of a range of 200 L/s its half."""
    values = {name: text_.format(unit=unit) for name, text_ in POINTS.items()}
    with full.begin() as connection:
        key = connection.scalar(text("SELECT max(id) FROM bench_session"))
        own = connection.scalar(text("SELECT max(id) FROM calibration"))
        _set(connection, "bench_session", key, {f"calibration_{n}": v for n, v in values.items()})
        _set(connection, "bench_session", key, {"range_typed": "200 L/s", "range_si": 0.2})
        _set(
            connection,
            "bench_session",
            key,
            {"u_seat_angle_typed": "1 deg", "u_seat_angle_si": 1.0},
        )
        _set(connection, "calibration", own, values)
        connection.execute(
            text("UPDATE bench_range SET full_scale_typed = '200 L/s', full_scale_si = 0.2")
        )
        connection.execute(
            text(
                "INSERT INTO leak_test (bench_range_id, made_on, pressure_unit, pressures, "
                "leakage_unit, leakages, expanded_uncertainty_typed, expanded_uncertainty_si, "
                "notes) "
                "SELECT min(id), '2026-01-05', 'kPa', '3 7', 'L/s', '0.2 0.35', '10 %', 0.1, '' "
                "FROM bench_range"
            )
        )
    downgrade(full, "0031")
    assert "leak_test" not in tables(full)
    upgrade(full)
    with full.connect() as connection:
        for table, column, row in (
            ("bench_session", "calibration_factor", key),
            ("calibration", "factor", own),
        ):
            query = text(f"SELECT {column} FROM {table} WHERE id = :id")
            assert connection.scalar(query, {"id": row}) == factor
    assert named_rows(full, "leak_test") == []


def _set(connection: Connection, table: str, key: int | None, values: dict[str, Any]) -> None:
    """Set columns of one row."""
    given = ", ".join(f"{name} = :{name}" for name in values)
    connection.execute(text(f"UPDATE {table} SET {given} WHERE id = :key"), {**values, "key": key})


PLACES = {
    "25 mm from the flange": ("", "25 mm", 0.025, "port flange"),
    "roof, 2 in from the valve seat": ("roof", "2 in", 0.0508, "valve seat"),
    "at the flange": ("at the flange", None, None, None),
    "25 furlongs from the flange": ("25 furlongs from the flange", None, None, None),
}
"""Places as they were written before distances were kept, and what becomes of each."""


@pytest.mark.slow
def test_the_filled_shop_goes_down_to_the_second_revision_and_all_the_way_up(full: Engine):
    """Later tables come up empty; places on a port become distances, and go back (0003)."""
    fill_up(full)
    take_out_pressures(full)
    before, wanted = content(full), repeated_steps(full)
    downgrade(full, "0002")
    there = columns(full)
    area = "kind_id = (SELECT id FROM measurement_kind WHERE code = 'port area')"
    with full.begin() as connection:
        keys = connection.scalars(text(f"SELECT id FROM measurement WHERE {area} ORDER BY id"))
        chosen = dict(zip(keys.all(), PLACES, strict=False))
        for key, place in chosen.items():
            _set(connection, "measurement", key, {"place": place})
    upgrade(full)
    rows = rows_of(full, "place, distance_typed, distance_si, datum")
    assert {place: rows[key] for key, place in chosen.items()} == PLACES
    expected = {key: {"place": PLACES[place][0]} for key, place in chosen.items()}
    before["measurement"] = before["measurement"].changed(expected)
    after = content(full)
    assert_kept(before, after, there, "0003")
    assert not [table for table in frozenset().union(*NEW.values()) if after[table].rows]
    assert repeated_steps(full) == wanted
    assert named_rows(full, "shop")[0]["spring_shims"] == ""
    with session_factory(full)() as db:
        assert all(person.search_key for person in db.scalars(select(User)))
    downgrade(full, "0002")
    rows = rows_of(full, "place")
    assert {key: rows[key][0] for key in chosen} == chosen


def repeated_steps(engine: Engine) -> list[Any]:
    """Reasons of repeated steps, and their notes."""
    query = text("SELECT id, again_because, notes FROM operation ORDER BY id")
    with engine.connect() as connection:
        return list(connection.execute(query).all())


def rows_of(engine: Engine, columns: str) -> dict[int, tuple[Any, ...]]:
    """These columns of every measurement, by its key."""
    with engine.connect() as connection:
        rows = connection.execute(text(f"SELECT id, {columns} FROM measurement")).all()
    return {key: tuple(rest) for key, *rest in rows}


@pytest.mark.slow
def test_forecasts_go_down_with_their_data_and_cases_come_up_as_they_were(full: Engine):
    query = text("SELECT job_head_id, steps, side, part, ports FROM gain_case ORDER BY 1, 2, 3, 4")
    with full.connect() as connection:
        before = connection.execute(query).all()
    assert {"forecast", "gain_case"} <= goes_down_and_up(full, "0052")
    with full.connect() as connection:
        assert connection.execute(query).all() == before
        assert not connection.execute(text("SELECT id FROM forecast")).all()
    assert before


@pytest.mark.slow
def test_cases_are_calculated_again_as_their_tests_are_compared(full: Engine):
    """Revision 0066 drops what was stored before, whatever it stated."""
    query = text("SELECT job_head_id, steps, side, part, expanded_uncertainty FROM gain_case")
    with full.connect() as connection:
        fresh = {tuple(row) for row in connection.execute(query).all()}
    downgrade(full, before_revision("0066"))
    with full.begin() as connection:
        assert not connection.execute(query).all()
        connection.execute(
            text(
                "INSERT INTO gain_case (job_head_id, steps, side, part, log_gain, "
                "standard_uncertainty, expanded_uncertainty, ports, tests, saved_at) SELECT "
                "min(job_head.id), '9', 'intake', 'whole', 0.1, 0.1, 0.2, 1, '[]', "
                "'2026-01-01 00:00:00' FROM job_head"
            )
        )
    upgrade(full)
    with full.connect() as connection:
        assert {tuple(row) for row in connection.execute(query).all()} == fresh
    assert fresh


@pytest.mark.slow
def test_velocity_maps_go_down_with_their_data_and_come_up_empty(full: Engine):
    with full.connect() as connection:
        assert connection.scalar(text("SELECT count(*) FROM velocity_map"))
    assert "velocity_map" in goes_down_and_up(full, "0071")
    with full.connect() as connection:
        assert not connection.scalar(text("SELECT count(*) FROM velocity_map"))


@pytest.mark.slow
def test_swirl_tests_go_down_with_their_data_and_come_up_empty(full: Engine):
    with full.connect() as connection:
        assert connection.scalar(text("SELECT count(*) FROM swirl_test"))
    assert "swirl_test" in goes_down_and_up(full, "0076")
    with full.connect() as connection:
        assert not connection.scalar(text("SELECT count(*) FROM swirl_test"))


@pytest.mark.slow
def test_lines_of_approvals_with_one_position_are_numbered_through(full: Engine):
    """Revision 0022 gave them the positions of the steps on their heads; 0058 makes them a key."""
    downgrade(full, before_revision("0058"))
    with full.begin() as connection:
        count = connection.scalar(text("SELECT count(*) FROM approval_line"))
        connection.execute(text("UPDATE approval_line SET position = 1"))
    upgrade(full)
    rows = named_rows(full, "approval_line")
    assert len(rows) == len({(row["approval_id"], row["position"]) for row in rows}) == count
    for approval in {row["approval_id"] for row in rows}:
        of_it = sorted((row for row in rows if row["approval_id"] == approval),
                       key=lambda row: row["position"])  # fmt: skip
        assert [row["position"] for row in of_it] == list(range(1, len(of_it) + 1))
        assert of_it == sorted(of_it, key=lambda row: row["operation_id"])


@pytest.mark.slow
def test_the_index_of_look_ups_comes_up_with_the_texts_in_it(full: Engine):
    """Revision 0017 is built from existing rows, and kept current by new ones."""
    goes_down_and_up(full, "0017")
    assert integrity.astray(full) == []
    with full.begin() as connection:
        connection.execute(update(Visit).values(condition="as it was"))
        lookup_text.renew(connection, true())
        connection.execute(delete(LookupText).where(LookupText.job_head_id == 1))
    assert integrity.astray(full) == []
    with session_factory(full)() as db:
        assert past_jobs.past_jobs(db, "as it was", 1)


@pytest.mark.slow
def test_heads_this_shop_ported_before_come_up_as_ported_here_all_others_as_unknown(full: Engine):
    """Revision 0021 derives the state from the recorded steps."""
    upgrade(full)
    with session_factory(full)() as db:
        wanted = {
            visit.tag: "ported here" if any(map(castings.porting_of, earlier)) else "unknown"
            for visit in db.scalars(select(Visit))
            for earlier in [castings.visits_before(visit)]
        }
    assert set(wanted.values()) == {"ported here", "unknown"}
    downgrade(full, before_revision("0021"))
    upgrade(full)
    with session_factory(full)() as db:
        assert {visit.tag: visit.casting_state for visit in db.scalars(select(Visit))} == wanted


@pytest.mark.slow
def test_measurements_find_their_valve_where_it_is_certain_and_keep_it_on_the_way_down(
    full: Engine,
):
    """Revision 0035: sure of two valves, told in words of more, else as typed."""
    query = text(
        "SELECT m.id, m.place, m.valve, e.valves_per_cylinder FROM measurement m "
        "JOIN job_head j ON j.id = m.job_head_id JOIN head h ON h.id = j.head_id "
        "JOIN engine_type e ON e.id = h.engine_type_id ORDER BY m.id"
    )
    with full.begin() as connection:
        before = [tuple(row) for row in connection.execute(query)]
        several = next(row for row in before if row[2] is not None and row[3] > 2)
        named = text("UPDATE measurement SET place = 'at the top' WHERE id = :id")
        connection.execute(named, {"id": several[0]})
        unsure = connection.scalar(
            text("SELECT count(*) FROM measurement WHERE valve IS NULL AND side <> ''")
        )
    downgrade(full, before_revision("0035"))
    rows = rows_of(full, "place")
    assert rows[several[0]] == (f"valve no. {several[2]}, at the top",)
    upgrade(full)
    with full.connect() as connection:
        after = [tuple(row) for row in connection.execute(query)]
        still_unsure = connection.scalar(
            text("SELECT count(*) FROM measurement WHERE valve IS NULL AND side <> ''")
        )
    assert [(key, valve) for key, _, valve, _ in after] == [(key, v) for key, _, v, _ in before]
    assert {row[2] for row in after if row[3] > 2} > {1, 2, None}
    assert {key: place for key, place, *_ in after}[several[0]] == "at the top"
    assert unsure == still_unsure
    assert unsure


@pytest.mark.slow
def test_a_shop_of_before_gets_the_kinds_of_measurement_a_new_one_has(full: Engine):
    """Kinds that came with revision 0036 are the catalogue, in its order."""
    columns = (
        "code, name, dimension, us_unit, si_unit, place_kind, us_decimals, si_decimals, "
        "least_typed, greatest_typed, least_si, greatest_si, position"
    )
    query = text(f"SELECT {columns} FROM measurement_kind ORDER BY position")
    with full.connect() as connection:
        wanted = [tuple(row) for row in connection.execute(query)]
    assert len(wanted) > 40
    downgrade(full, before_revision("0036"))
    with full.begin() as connection:
        connection.execute(text("DELETE FROM measurement_kind WHERE code = 'cam bore'"))
        if full.dialect.name == "postgresql":
            # The rows were copied with their keys, past the sequence.
            connection.execute(
                text(
                    "SELECT setval(pg_get_serial_sequence('measurement_kind', 'id'), max(id)) "
                    "FROM measurement_kind"
                )
            )
    upgrade(full)
    with full.connect() as connection:
        assert [tuple(row) for row in connection.execute(query)] == wanted


@pytest.mark.slow
def test_a_shop_of_before_speaks_american_and_keeps_its_other_settings(full: Engine):
    """Revision 0037 knows two languages; what was chosen goes on the way down."""
    with full.begin() as connection:
        connection.execute(text("UPDATE shop SET language = 'en_GB', currency = 'GBP'"))
    (before,) = named_rows(full, "shop")
    downgrade(full, before_revision("0037"))
    (without,) = named_rows(full, "shop")
    assert "language" not in without
    assert without == {name: before[name] for name in without}
    upgrade(full)
    (again,) = named_rows(full, "shop")
    assert again["language"] == "en_US"
    assert {name: again[name] for name in without} == without
    with pytest.raises(IntegrityError, match="ck_shop_language"), full.begin() as connection:
        connection.execute(text("UPDATE shop SET language = 'en_AU'"))


@pytest.mark.slow
def test_built_in_steps_become_verbs_where_the_shop_has_not_renamed_them(full: Engine):
    """Revision 0039 knows each built-in step by its code and the name it had."""

    def names() -> dict[str, str]:
        with full.connect() as connection:
            return dict(connection.execute(text("SELECT code, name FROM operation_kind")).all())

    before = names()
    downgrade(full, before_revision("0039"))
    nouns = names()
    assert (nouns["seat-cut"], nouns["port-work"]) == ("Seat cut", "Port work")
    with full.begin() as connection:
        rename = text("UPDATE operation_kind SET name = :name WHERE code = :code")
        # One that the shop renamed, and one that has what another is to be called.
        connection.execute(rename, {"code": "seat-cut", "name": "Three-angle job"})
        connection.execute(rename, {"code": "resurface", "name": "assemble"})
    upgrade(full)
    changed = {"seat-cut": "Three-angle job", "resurface": "assemble", "assembly": "Assembly"}
    assert names() == {**before, **changed}


LATER_OF_CUSTOMERS: dict[str, Any] = {
    "language": "",
    "open_data_consent": False,
    "open_data_consent_at": None,
    "open_data_consent_by_id": None,
    "exemption_certificate": "",
    "exemption_valid_until": None,
    "exemption_kind": "exempt",
    "country": "",
    "vat_id": "",
    "buyer_reference": "",
}
"""Columns that customers got since revision 0038, and their values on the way up."""


@pytest.mark.slow
def test_consent_and_cams_of_certificates_go_down_and_come_up_empty(full: Engine) -> None:
    """Revision 0055: no consent is invented, on the way up nobody has given any."""
    with full.begin() as connection:
        connection.execute(
            text(
                "UPDATE customer SET open_data_consent = true, "
                "open_data_consent_at = created_at, open_data_consent_by_id = 1"
            )
        )
        connection.execute(text("UPDATE head SET open_data_key = 'key ' || id"))
        connection.execute(
            text(
                "UPDATE certificate_draft SET cam_id = (SELECT min(id) FROM cam) "
                "WHERE certificate_id IS NULL"
            )
        )
    tables = ("customer", "head", "certificate_draft")
    before = {table: named_rows(full, table) for table in tables}
    above = triggers(full)
    downgrade(full, before_revision("0055"))
    for table in tables:
        names = set(named_rows(full, table)[0])
        assert not names & {"open_data_consent", "open_data_key", "from_open_data", "cam_id"}
    upgrade(full)
    empty = {
        "customer": LATER_OF_CUSTOMERS | {"language": None},
        "head": {"open_data_key": None, "from_open_data": False},
        "certificate_draft": {"cam_id": None},
    }
    for table, values in empty.items():
        values.pop("language", None)
        assert named_rows(full, table) == [{**row, **values} for row in before[table]]
    assert triggers(full) == above


@pytest.mark.slow
def test_customers_of_before_read_the_shops_language(full: Engine) -> None:
    """Revision 0038 gives a customer a language; what was chosen goes on the way down."""
    with full.begin() as connection:
        connection.execute(text("UPDATE customer SET language = 'en_GB'"))
    before = named_rows(full, "customer")
    downgrade(full, before_revision("0038"))
    without = [{k: v for k, v in row.items() if k not in LATER_OF_CUSTOMERS} for row in before]
    assert named_rows(full, "customer") == without
    upgrade(full)
    assert named_rows(full, "customer") == [{**row, **LATER_OF_CUSTOMERS} for row in before]
    with pytest.raises(IntegrityError, match="ck_customer_language"), full.begin() as connection:
        connection.execute(text("UPDATE customer SET language = 'en_AU'"))


@pytest.mark.slow
def test_development_of_own_heads_goes_down_as_work_or_as_ended(full: Engine) -> None:
    """Revision 0047 adds the state; one that ended has no customer it went to."""
    begin = "UPDATE job SET state = 'development', closed_at = {} WHERE id = {}"
    with full.begin() as connection:
        first, second = connection.scalars(select(Job.id).order_by(Job.id).limit(2))
        connection.execute(text(begin.format("NULL", first)))
        connection.execute(text(begin.format("booked_in_at", second)))
    above = triggers(full)
    downgrade(full, before_revision("0047"))
    states = {row["id"]: (row["state"], row["cancel_reason"]) for row in named_rows(full, "job")}
    assert states[first][0] == "in work"
    assert states[second] == ("cancelled", "development ended")
    with pytest.raises(IntegrityError, match="ck_job_jobstate"), full.begin() as connection:
        connection.execute(text("UPDATE job SET state = 'development'"))
    upgrade(full)
    assert triggers(full) == above


@pytest.mark.slow
def test_sections_of_a_manifold_go_down_as_a_place_and_come_up_again(full: Engine) -> None:
    """Revision 0053 knows the manifold's flange; below it is the port's, in a place by its name."""
    query = text("SELECT id, datum, place FROM measurement WHERE datum IS NOT NULL ORDER BY id")
    stated = text("UPDATE measurement_kind SET uncertainty_typed = '2 %', uncertainty_si = 0.02")
    with full.begin() as connection:
        before = connection.execute(query).all()
        connection.execute(stated)
    manifold = {row.id for row in before if row.datum == "manifold flange"}
    assert manifold
    above = triggers(full)
    downgrade(full, before_revision("0053"))
    with full.connect() as connection:
        below = connection.execute(query).all()
    places = {row.id: (row.datum, row.place) for row in below}
    assert {places[key] for key in manifold} == {("port flange", "manifold")}
    assert "uncertainty_typed" not in named_rows(full, "measurement_kind")[0]
    with pytest.raises(IntegrityError, match="datum"), full.begin() as connection:
        connection.execute(text("UPDATE measurement SET datum = 'manifold flange'"))
    upgrade(full)
    with full.connect() as connection:
        assert connection.execute(query).all() == before
    assert triggers(full) == above


def before_revision(wanted: str) -> str:
    """The revision that comes before one, or "base"."""
    return next(item.down_revision or "base" for item in revisions() if item.revision == wanted)


@pytest.mark.slow
def test_the_invented_shop_reads_the_same_from_either_database(full: Engine, demo_shop: DemoShop):
    demo = open_engine(f"sqlite:///{demo_shop.folder / 'shopflow.db'}")
    with demo.connect() as source, full.connect() as target:
        for table in Base.metadata.sorted_tables:
            wanted, answer = (
                sorted(map(repr, connection.execute(select(table))))
                for connection in (source, target)
            )
            assert answer == wanted, table.name
    demo.dispose()


@pytest.mark.slow
def test_a_condition_is_a_number_below_and_a_word_again_above(full: Engine):
    """Revision 0045: what was before read numbers with units alone."""
    kinds = text(
        "SELECT code, name, dimension, us_unit, place_kind, us_decimals, position "
        "FROM measurement_kind ORDER BY position"
    )
    values = text(
        "SELECT m.value_typed, m.value_si, m.upper_typed FROM measurement m "
        "JOIN measurement_kind k ON k.id = m.kind_id WHERE k.code = 'plug thread' ORDER BY m.id"
    )
    with full.connect() as connection:
        before, words = connection.execute(kinds).all(), connection.execute(values).all()
    assert {row.value_typed for row in words} >= {"good", "repaired"}
    assert {row.upper_typed for row in words} == {"repaired"}
    downgrade(full, before_revision("0045"))
    with full.connect() as connection:
        numbers = connection.execute(values).all()
        assert {row.value_typed for row in numbers} >= {"1 %", "2 %"}
        assert {row.upper_typed for row in numbers} == {"2 %"}
    upgrade(full)
    with full.connect() as connection:
        assert connection.execute(kinds).all() == before
        assert connection.execute(values).all() == words


def test_the_check_expects_the_triggers_that_a_new_shop_has(engine: Engine):
    """On PostgreSQL `python -m tests.migrations.guards` writes them anew."""
    with engine.connect() as connection:
        assert guards(connection) == expected_guards(engine.dialect.name)
