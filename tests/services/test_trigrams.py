"""With its index a look-up finds what going through every text finds, in the same order."""

from __future__ import annotations

import random
import sqlite3
from collections.abc import Iterator

import pytest
from sqlalchemy import Engine, select, update
from sqlalchemy.orm import Session

from shopflow.database import open_engine, session_factory
from shopflow.errors import ShopflowError
from shopflow.models import Job, LookupText, Visit
from shopflow.services.matching import trigrams
from shopflow.services.matching.fuzzy import bare, plain
from shopflow.services.registry import engine_types
from shopflow.services.search import past_jobs
from shopflow.services.search.parsed_query import customers_called
from shopflow.services.search.question import ask
from tests.demo_shop import DemoShop
from tests.migrations.test_migrations import copy_rows

pytestmark = pytest.mark.slow

NOTES = (
    "Señor Öztürk wants it quiet",
    "100% of it, or 50_50",
    'the "old" one\\the new',
    "馬力を上げる、静かに",
    "it's at 150 ℃ that it leaks; № 7 ™",
    "Straße, Łódź, smørrebrød",
    "cafe\u0301 at the cafe",
)
WORDS = (
    "öztürk", "OZTURK", "senor", "100%", "50_50", "0_5", "%", "_", "%%%", "___", '"old"', '"""',
    "\\the", "one\\", "'s at", "馬力", "馬力を", "静かに", "strasse", "Łódź", "lodz", "smorre",
    "café", "150 °", "150 °c", "tm", "7 tm", "e\u0301\u0301", "\u0301\u0301\u0301", "ab", "a-b",
    "a b", "AND", "OR NOT", "notes : it", "NEAR(a b)", "it*", "^it", "20", "202", "2026", "-2026-",
    "it's", "quiet leaks", "quiet zeppelin", "zeppelin", "wants the head", "it\nit",
    "all of the head it is",
)  # fmt: skip


@pytest.fixture
def db(engine: Engine, demo_shop: DemoShop) -> Iterator[Session]:
    """The invented shop with notes in many letters."""
    demo = open_engine(f"sqlite:///{demo_shop.folder / 'shopflow.db'}")
    with demo.connect() as source, engine.begin() as target:
        copy_rows(source, target)
    demo.dispose()
    with session_factory(engine)() as db:
        jobs = db.scalars(select(Job).order_by(Job.id).limit(len(NOTES)))
        for job, notes in zip(jobs, NOTES, strict=True):
            job.notes = notes
        db.flush()
        yield db


def every_stay(db: Session) -> list[tuple[str, int, int, str, str]]:
    """Tag, keys and texts of every stay, newest first."""
    columns = LookupText.__table__.c
    query = select(
        Visit.tag, columns.engine_type_id, columns.customer_id, columns.numbers, columns.notes
    ).join(Visit, Visit.id == columns.job_head_id)
    ordered = query.order_by(columns.booked_in_at.desc(), columns.job_head_id)
    return [tuple(row) for row in db.execute(ordered)]


def goes_with(db: Session, text: str) -> set[str]:
    """Tags of the stays that a text goes with, by their names or by Python's own `in`."""
    types = {match.key for match in engine_types.matches(db, text)}
    customers, number, words = customers_called(db, text), bare(text), plain(text)
    return {
        tag
        for tag, engine_type, customer, numbers, notes in every_stay(db)
        if engine_type in types
        or customer in customers
        or (len(number) >= 3 and number in numbers)
        # PostgreSQL tells capitals apart that folding leaves ("№" is "No"), SQLite does not.
        or (len(text) >= 3 and words in (notes.lower() if on_sqlite(db) else notes))
    }


def on_sqlite(db: Session) -> bool:
    """True where the database is SQLite."""
    return db.get_bind().dialect.name == "sqlite"


def plainly(db: Session, text: str) -> list[str]:
    """Tags of what a text means as a whole, else word by word."""
    answer = goes_with(db, text)
    words = [word for word in engine_types.pieces(text) if len(word) >= 3]
    if not answer and words and words != [text] and len(words) <= past_jobs.MOST_WORDS:
        answer = set.intersection(*(goes_with(db, word) for word in words))
    return [tag for tag, *_ in every_stay(db) if tag in answer]


def pieces(db: Session, count: int = 20) -> Iterator[str]:
    """Pieces of what is on file, of any length, and two of them together."""
    chance = random.Random(20261125)
    texts = [text for *_, numbers, notes in every_stay(db) for text in (numbers, notes) if text]
    for _ in range(count):
        total = chance.choice(texts)
        first = chance.randrange(len(total))
        yield total[first : first + chance.randrange(2, 14)].strip()
        yield " ".join(chance.choice(chance.choice(texts).split()) for _ in range(2))


@pytest.mark.parametrize("many", [trigrams.MANY, 4])
def test_what_is_found_is_what_going_through_every_text_finds(
    db: Session, many: int, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(trigrams, "MANY", many)
    seen: list[int] = []
    for text in [*WORDS, *pieces(db)]:
        # Facts are asked of other tables, and a name beside them is read as here.
        if ask(db, text).facts:
            continue
        wanted = plainly(db, text.strip()) if text.strip() else []
        for limit in (500, 3):
            rows = [past.tag for past in past_jobs.past_jobs(db, text, limit)]
            assert rows == wanted[:limit], repr(text)
        seen.append(len(wanted))
    # Some of it was found, some not.
    assert min(seen) == 0
    assert max(seen) > many or many == trigrams.MANY
    assert sum(map(bool, seen)) > len(seen) / 3


def test_a_change_made_past_the_app_is_found_and_what_was_there_is_not(db: Session):
    where = LookupText.job_head_id == select(Visit.id).limit(1).scalar_subquery()
    tag = db.scalars(select(Visit.tag).join(LookupText).where(where)).one()
    db.execute(update(LookupText).where(where).values(numbers="qqxyz1"))
    assert [past.tag for past in past_jobs.past_jobs(db, "qqxyz1")] == [tag]
    db.execute(update(LookupText).where(where).values(numbers="qqxyz2"))
    assert past_jobs.past_jobs(db, "qqxyz1") == []
    db.rollback()
    assert past_jobs.past_jobs(db, "qqxyz2") == []


def test_an_sqlite_without_the_index_is_refused_in_words(monkeypatch: pytest.MonkeyPatch):
    def without_virtual_tables(path: str) -> sqlite3.Connection:
        connection = sqlite3.Connection(path)
        denied = sqlite3.SQLITE_CREATE_VTABLE
        connection.set_authorizer(
            lambda action, *_: sqlite3.SQLITE_DENY if action == denied else sqlite3.SQLITE_OK
        )
        return connection

    monkeypatch.setattr(sqlite3, "connect", without_virtual_tables)
    with pytest.raises(ShopflowError, match=r"needs SQLite 3\.34 or later with FTS5"):
        open_engine("sqlite://")
