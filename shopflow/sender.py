"""Sending what lies in the outbox: one message after the other, each by one sender only."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime

from sqlalchemy import Engine
from sqlalchemy.orm import Session

from shopflow.config import Settings
from shopflow.database import READ_ONLY, session_factory
from shopflow.errors import ShopflowError
from shopflow.files import FileStore, store_for
from shopflow.mail import delivery
from shopflow.mail.message import UnfitLetterError, build
from shopflow.mail.sealing import Seal
from shopflow.models import OutgoingMail
from shopflow.services.messaging import delivery as messaging_delivery
from shopflow.services.messaging import log_heads, smtp_settings
from shopflow.services.shop.settings import language, shop_or_none
from shopflow.texts import spoken

EVERY = 5.0
"""Seconds between looks into an outbox that had nothing due."""

Verb = Callable[[Session, OutgoingMail, datetime, str], None]

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Sender:
    """Takes messages from one shop's outbox to its mail server."""

    engine: Engine
    store: FileStore
    seal: Seal
    patience: float = delivery.PATIENCE

    @classmethod
    def of(cls, settings: Settings, engine: Engine) -> Sender:
        """The sender of a shop."""
        store = store_for(settings.files, settings.files_url)
        return cls(engine, store, Seal(settings.secret_key))

    def send_due(self) -> int:
        """Send everything that is due now; return the number of messages the server accepted."""
        self._queue_log_head()
        accepted = 0
        while (row := self._claimed()) is not None:
            with spoken(self._language()):
                accepted += self._send(row)
        return accepted

    def watch(self, stop: threading.Event) -> None:
        """Send whatever falls due until told to stop; a fault is logged, and the watch goes on."""
        while not stop.is_set():
            try:
                self.send_due()
            # Whatever it is, the other messages must go out: a claim lapses and is looked after.
            except Exception:
                log.exception("the outbox could not be looked after; trying again")
            stop.wait(EVERY)

    def _queue_log_head(self) -> None:
        """Queue the day's head of the record log, where the shop mails it."""
        reading = self.engine.execution_options(**READ_ONLY)
        with session_factory(reading)() as db:
            if not log_heads.is_due(db, _now()):
                return
        with spoken(self._language()), session_factory(self.engine).begin() as db:
            log_heads.queue(db, _now())

    def _claimed(self) -> OutgoingMail | None:
        """The message that has waited longest, claimed; none where none is due."""
        # Looking takes no write lock, so that an idle sender is in nobody's way.
        reading = self.engine.execution_options(**READ_ONLY)
        with session_factory(reading)() as db:
            if smtp_settings.the_mailbox(db) is None or not messaging_delivery.anything_due(
                db, _now()
            ):
                return None
        with session_factory(self.engine).begin() as db:
            messaging_delivery.take_back_lapsed(db, _now())
            return messaging_delivery.claim(db, _now())

    def _language(self) -> str:
        """The shop's language: what comes of a message is noted in it."""
        reading = self.engine.execution_options(**READ_ONLY)
        with session_factory(reading)() as db:
            return language(shop_or_none(db))

    def _send(self, row: OutgoingMail) -> bool:
        """Hand a claimed message over and record the result; True where it was accepted."""
        try:
            refusals = self._deliver(row)
        except UnfitLetterError as error:
            self._note(messaging_delivery.set_aside, row, error)
        except delivery.RefusedError as error:
            self._note(messaging_delivery.refused, row, error)
        except delivery.UnsureError as error:
            self._note(messaging_delivery.unsure, row, error)
        except messaging_delivery.TakenOverError:
            log.warning("message %s was taken over by another sender", row.message_id)
        except ShopflowError as error:
            # Away, busy, or something here must be put right: try again later.
            self._note(messaging_delivery.put_off, row, error)
        else:
            with session_factory(self.engine).begin() as db:
                messaging_delivery.sent(db, db.merge(row, load=False), _now(), refusals)
            return True
        return False

    def _deliver(self, row: OutgoingMail) -> tuple[str, ...]:
        """Hand a message over; return the refusals of recipients."""
        reading = self.engine.execution_options(**READ_ONLY)
        with session_factory(reading)() as db:
            settings = smtp_settings.get_shop(db)
            letter = messaging_delivery.letter(db, row, settings, self.store, self.seal)
            server = smtp_settings.server(settings, self.seal)

        def hand_over() -> None:
            with session_factory(self.engine).begin() as db:
                messaging_delivery.begin_handing_over(db, row, _now())

        return delivery.deliver(
            server, build(letter), before_handing_over=hand_over, patience=self.patience
        )

    def _note(self, verb: Verb, row: OutgoingMail, error: ShopflowError) -> None:
        with session_factory(self.engine).begin() as db:
            # Merged as it was claimed: whose claim it is by now is for the UPDATE to see.
            verb(db, db.merge(row, load=False), _now(), str(error))


def _now() -> datetime:
    return datetime.now(UTC)
