"""A process that hammers on stock or ledger: `python -m tests.reliability.hammer URL ACT TURNS`.

It says "ready" once it can begin, begins when a line comes in, and then says how often it could.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from decimal import Decimal

from sqlalchemy import select
from sqlalchemy.exc import OperationalError
from sqlalchemy.orm import Session

from shopflow.database import open_engine, session_factory
from shopflow.errors import RuleError
from shopflow.models import Job, Part, PurchaseOrder
from shopflow.services.billing import payments
from shopflow.services.parts import needs, orders, stock
from tests import factories

Act = Callable[[Session, int], bool]


def take_one(db: Session, turn: int) -> bool:
    """Take one off the shelf, or put five on it; True where it was done."""
    part = db.scalars(select(Part)).one()
    try:
        if turn % 8 == 0:
            stock.receive(db, factories.BY, part, Decimal(5))
        else:
            stock.correct(db, factories.BY, part, Decimal(-1), "taken")
    except RuleError:
        return False
    return True


def fit_one(db: Session, turn: int) -> bool:
    """Fit the part of a need: of several processes one alone may."""
    row = needs.of_part(db, db.scalars(select(Part)).one())[turn].row
    try:
        needs.fit(db, factories.BY, row)
    except RuleError:
        return False
    return True


def receive_order(db: Session, turn: int) -> bool:
    """Receive all that is to come on an order: of several processes one alone may."""
    number = db.scalars(select(PurchaseOrder.number).order_by(PurchaseOrder.id)).all()[turn]
    try:
        orders.receive(db, factories.BY, orders.get(db, number))
    except RuleError:
        return False
    return True


def pay_one(db: Session, turn: int) -> bool:
    """Record a payment of 1.00 on the one job."""
    job = db.scalars(select(Job)).one()
    values = {"amount": "1.00", "method": ("Cash", "card")[turn % 2], "overpayment_meant": True}
    payments.record(db, factories.BY, job, values)
    return True


ACTS: dict[str, Act] = {act.__name__: act for act in (take_one, fit_one, receive_order, pay_one)}


def act_once(sessions: Callable[[], Session], act: Act, turn: int) -> bool:
    """Act in a transaction; where another process held the database too long, begin again."""
    while True:
        try:
            with sessions() as db:
                succeeded = act(db, turn)
                if succeeded:
                    db.commit()
                return succeeded
        except OperationalError as error:
            if "locked" not in str(error):
                raise


def main(url: str, name: str, turns: str) -> None:
    """Act so many times, each in a transaction of its own."""
    engine = open_engine(url)
    succeeded = 0
    print("ready", flush=True)
    sys.stdin.readline()
    for turn in range(int(turns)):
        succeeded += act_once(session_factory(engine), ACTS[name], turn)
    engine.dispose()
    print(succeeded, flush=True)


if __name__ == "__main__":
    main(*sys.argv[1:])
