"""The invented shop: its seed data run through the main job, from the counter to the papers."""

from __future__ import annotations

import gc
import tomllib
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopflow.config import DATABASE_FILE, PAPERS_FOLDER, Settings
from shopflow.database import open_engine, session_factory, upgrade
from shopflow.demo import castings, life, measured, printed, set_up, work
from shopflow.demo.seed import Seed
from shopflow.errors import ShopflowError
from shopflow.files import FileStore
from shopflow.models import (
    Bench,
    BenchSession,
    Certificate,
    Customer,
    EngineType,
    Head,
    Job,
    Role,
    Scope,
    User,
)
from shopflow.resources import SEED_DATA
from shopflow.services.accounts import api_tokens
from shopflow.services.actor import Actor
from shopflow.services.shop import built_in_kinds
from shopflow.services.shop import settings as shop_settings
from shopflow.texts import gettext

WEB_ADDRESS = "http://127.0.0.1:8460"
"""Address of the demo by default, to which the codes on its documents lead."""


SIMULATED_BENCH = "Simulated bench"
TOKEN_FILE = "simulated-bench.token"
TOKEN_DAYS = 365


@dataclass
class Demo:
    """Contents of the demo shop, reported to the user."""

    data: Path
    database_url: str
    passwords: dict[str, str] = field(default_factory=dict)
    counts: dict[str, int] = field(default_factory=dict)
    papers: list[Path] = field(default_factory=list)


def build(data: Path) -> Demo:
    """Make a new data folder with the demo shop in it.

    Raises ShopflowError where the folder holds anything already.
    """
    if data.exists() and (not data.is_dir() or any(data.iterdir())):
        raise ShopflowError(
            gettext("{folder} holds something already; name a new or an empty folder", folder=data)
        )
    settings = Settings.for_folder(data)
    # The demo never goes into a database named elsewhere.
    demo = Demo(settings.data, f"sqlite:///{settings.data / DATABASE_FILE}")
    engine = open_engine(demo.database_url)
    # Nothing becomes garbage while the shop is built; looking for it costs a fifth of the time.
    gc.disable()
    try:
        upgrade(engine)
        # Every verb flushes what it did; flushing before each query as well is time for nothing.
        with session_factory(engine)() as db, db.no_autoflush:
            demo.passwords = load(Seed(db, SEED_DATA), settings)
            _make_token(db, demo.data / TOKEN_FILE)
            db.commit()
        with session_factory(engine)() as db:
            demo.counts = _counts(db)
            demo.papers = printed.write(
                db, settings.data / PAPERS_FOLDER, FileStore(settings.files)
            )
    finally:
        gc.enable()
        engine.dispose()
    return demo


def load(seed: Seed, settings: Settings) -> dict[str, str]:
    """Load everything; the made-up passwords by login."""
    files = sorted((seed.folder / "jobs").glob("*.toml"))
    job_files = [tomllib.loads(path.read_text(encoding="utf-8")) for path in files]
    job_files.sort(key=lambda job: job["booked_in"])
    opening = Actor(None, seed.moved(job_files[0]["booked_in"]) - timedelta(days=30))
    shop_settings.set_up(seed.db, opening, {**seed.shop_file["shop"], "web_address": WEB_ADDRESS})
    seed.steps = {kind.code: kind for kind in built_in_kinds.operation_kinds(seed.db)}
    seed.figures = {kind.code: kind for kind in built_in_kinds.measurement_kinds(seed.db)}
    passwords = set_up.add_people(seed, opening)
    set_up.style(seed, opening)
    set_up.price(seed, opening)
    set_up.state_uncertainties(seed, opening)
    set_up.add_files(seed, opening)
    for job_file in job_files:
        # One job after the other, so that each certificate states a head of the record log.
        seed.db.commit()
        work.add_job(seed, job_file)
    work.add_invoices(seed)
    measured.add(seed)
    castings.add(seed)
    life.add(seed, settings)
    return passwords


def _make_token(db: Session, path: Path) -> None:
    """Write a token of the simulated bench into a file that this account alone may read."""
    bench = db.scalars(select(Bench).where(Bench.name == SIMULATED_BENCH)).one()
    owner = db.scalars(select(User).where(User.role == Role.OWNER).limit(1)).one()
    values = {
        "name": SIMULATED_BENCH,
        "days": TOKEN_DAYS,
        "scopes": [Scope.BENCH],
        "bench": str(bench.id),
    }
    _, secret = api_tokens.make(db, Actor.now(owner), values)
    path.touch(mode=0o600)
    path.write_text(f"{secret}\n", encoding="ascii")


def _counts(db: Session) -> dict[str, int]:
    nouns: dict[str, type[Any]] = {
        "customers": Customer,
        "engine types": EngineType,
        "heads": Head,
        "jobs": Job,
        "flow tests": BenchSession,
        "certificates": Certificate,
    }
    return {
        name: db.scalar(select(func.count()).select_from(noun)) or 0 for name, noun in nouns.items()
    }
