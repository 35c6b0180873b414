"""Three processes at once on stock and ledger, on both databases: nothing lost, nothing twice."""

from __future__ import annotations

import contextlib
import subprocess
import sys
from decimal import Decimal
from pathlib import Path

import pytest
from sqlalchemy import Engine, select, text
from sqlalchemy.orm import Session

from shopflow.models import LedgerEntry, Part, StockMovement
from shopflow.services.parts import catalog, needs, orders, stock, suppliers
from tests import factories
from tests.optional import present

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[2]
PROCESSES, TURNS = 3, 20


def hammer(url: str, name: str, turns: int = TURNS) -> list[int]:
    """Numbers of acts that three processes carried out at the same time."""
    command = [sys.executable, "-m", "tests.reliability.hammer", url, name, str(turns)]
    with contextlib.ExitStack() as stack:
        started = [
            stack.enter_context(
                subprocess.Popen(
                    command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT
                )
            )
            for _ in range(PROCESSES)
        ]
        for process in started:
            assert present(process.stdout).readline() == "ready\n"
        answers = []
        for process in started:
            present(process.stdin).write("\n")
            present(process.stdin).flush()
        for process in started:
            answers.append(int(present(process.stdout).readline()))
    assert [process.returncode for process in started] == [0] * PROCESSES
    return answers


@pytest.fixture
def part(db: Session) -> int:
    """Key of a part, three of it on the shelf, in a shop that uses parts."""
    factories.create_shop(db, uses_parts=True)
    row = catalog.add(db, factories.BY, {"number": "EV", "name": "Valve", "cost": "1.00"})
    stock.count(db, factories.BY, row, Decimal(3))
    key = row.id
    db.commit()
    return key


def levels(engine: Engine) -> list[int]:
    """Stock after each movement in order, in thousandths, checked against their sum by hand."""
    with engine.connect() as connection:
        query = "SELECT sequence, change, on_hand FROM stock_movement ORDER BY sequence"
        rows = connection.execute(text(query)).all()
    total = 0
    for place, row in enumerate(rows, start=1):
        total += row.change
        assert (row.sequence, row.on_hand) == (place, total)
    return [row.on_hand for row in rows]


def test_stock_is_never_below_nothing_and_no_movement_is_lost(
    part: int, database_url: str, engine: Engine, db: Session
):
    counts = hammer(database_url, "take_one", 24)
    after = levels(engine)
    assert min(after) >= 0
    # One count, and each act that a process was told it did.
    assert len(after) == 1 + sum(counts)
    received = PROCESSES * 3
    taken = sum(counts) - received
    assert after[-1] == 1000 * (3 + 5 * received - taken)


def test_a_part_is_fitted_once_whoever_taps(
    part: int, database_url: str, engine: Engine, db: Session
):
    visit = factories.create_visit(db)
    stock.count(db, factories.BY, db.get_one(Part, part), Decimal(12))
    for _ in range(12):
        needs.add(db, factories.BY, visit.job, {"part_id": part, "quantity": "1"})
    db.commit()
    counts = hammer(database_url, "fit_one", 12)
    assert sum(counts) == 12
    assert levels(engine)[-1] == 0
    fitted = db.scalars(select(StockMovement.job_line_id).where(StockMovement.job_line_id > 0))
    assert len(set(fitted)) == 12


def test_an_order_is_received_once_whoever_taps(
    part: int, database_url: str, engine: Engine, db: Session
):
    supplier = suppliers.add(db, factories.BY, {"name": "Northgate"})
    for _ in range(8):
        order = orders.draft(db, factories.BY, supplier)
        orders.add_line(db, factories.BY, order, {"part_id": part, "quantity": "2"})
        orders.issue(db, factories.BY, order)
    db.commit()
    counts = hammer(database_url, "receive_order", 8)
    assert sum(counts) == 8
    assert levels(engine)[-1] == 1000 * (3 + 16)


def test_every_payment_is_in_the_ledger_once_and_its_numbers_have_no_gap(
    database_url: str, db: Session
):
    factories.create_shop(db)
    factories.create_visit(db)
    db.commit()
    assert hammer(database_url, "pay_one") == [TURNS] * PROCESSES
    entries = db.scalars(select(LedgerEntry).order_by(LedgerEntry.number)).all()
    assert [entry.number for entry in entries] == list(range(1, PROCESSES * TURNS + 1))
    assert len({entry.payment_id for entry in entries}) == PROCESSES * TURNS
    columns = "role, detail, sum(amount), count(*)"
    query = f"SELECT {columns} FROM ledger_posting GROUP BY role, detail"
    sums = {(role, detail): (int(total), number) for role, detail, total, number in
            db.execute(text(query))}  # fmt: skip
    half = PROCESSES * TURNS // 2
    assert sums == {
        ("money received", "cash"): (100 * half, half),
        ("money received", "card"): (100 * half, half),
        ("receivables", ""): (-200 * half, 2 * half),
    }
