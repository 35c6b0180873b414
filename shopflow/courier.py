"""Posting what happens in the shop to the addresses that its owner named."""

from __future__ import annotations

import logging
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from sqlalchemy import Engine

from shopflow.config import Settings
from shopflow.database import READ_ONLY, session_factory
from shopflow.mail.sealing import Seal
from shopflow.services.shop.settings import language, shop_or_none
from shopflow.services.webhooks import queues
from shopflow.services.webhooks.queues import Parcel
from shopflow.texts import spoken
from shopflow.webhooks import destination, posting, signature
from shopflow.webhooks.destination import Network, UnfitAddressError
from shopflow.webhooks.posting import PostError

EVERY = 2.0
"""Seconds between looks at queues in which nothing was due."""

AT_ONCE = 20
"""Messages to one address before the others have their turn."""

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Courier:
    """Takes messages of one shop to the addresses."""

    engine: Engine
    seal: Seal
    allowed: Sequence[Network] = ()
    """Networks beside the public internet that may be posted to."""

    patience: float = posting.PATIENCE

    @classmethod
    def of(cls, settings: Settings, engine: Engine) -> Courier:
        """The courier of a shop. Raises ShopflowError where the networks cannot be read."""
        return cls(
            engine, Seal(settings.secret_key), destination.networks(settings.webhook_networks)
        )

    def post_due(self) -> int:
        """Post everything that is due now; return the number of messages that were taken."""
        taken = 0
        while keys := self._due():
            with spoken(self._language()):
                taken += sum(self._serve(key) for key in keys)
        return taken

    def watch(self, stop: threading.Event) -> None:
        """Post whatever falls due until told to stop; a fault is logged, and the watch goes on."""
        while not stop.is_set():
            try:
                self.post_due()
            # Whatever it is, the other messages must go out: a claim lapses and is looked after.
            except Exception:
                log.exception("the webhooks could not be looked after; trying again")
            stop.wait(EVERY)

    def _due(self) -> list[int]:
        # Looking takes no write lock, so that an idle courier is in nobody's way.
        reading = self.engine.execution_options(**READ_ONLY)
        with session_factory(reading)() as db:
            return queues.due(db, _now())

    def _language(self) -> str:
        """The shop's language, in which answers are noted."""
        reading = self.engine.execution_options(**READ_ONLY)
        with session_factory(reading)() as db:
            return language(shop_or_none(db))

    def _serve(self, hook_id: int) -> int:
        """Post to one address in order, as far as it takes the messages; return their number."""
        with session_factory(self.engine).begin() as db:
            mark = queues.claim(db, hook_id, _now())
        if mark is None:
            return 0
        taken = 0
        try:
            for _ in range(AT_ONCE):
                with session_factory(self.engine).begin() as db:
                    parcel = queues.next_parcel(db, hook_id, mark, _now(), self.seal)
                if parcel is None or not self._post(parcel):
                    break
                taken += 1
        finally:
            with session_factory(self.engine).begin() as db:
                queues.release(db, hook_id, mark)
        return taken

    def _post(self, parcel: Parcel) -> bool:
        """Post a message and note the answer; True where it was taken."""
        now = _now()
        headers = signature.headers(
            parcel.secrets, parcel.message_id, int(now.timestamp()), parcel.body
        )
        try:
            where = destination.read(parcel.url, self.allowed)
            status = posting.post(where, parcel.body, headers, self.allowed, self.patience)
        except (ValueError, UnfitAddressError, PostError) as error:
            with session_factory(self.engine).begin() as db:
                queues.failed(db, parcel, _now(), str(error))
            return False
        with session_factory(self.engine).begin() as db:
            return queues.answered(db, parcel, _now(), status)


def _now() -> datetime:
    return datetime.now(UTC)
