"""The command that sends what lies in the outbox, and posts to webhooks."""

from __future__ import annotations

import argparse
import logging
import signal
import threading
from collections.abc import Callable

from shopflow.cli.records import opened
from shopflow.config import Settings, default_data_folder
from shopflow.courier import Courier
from shopflow.sender import Sender
from shopflow.texts import gettext


def send(arguments: argparse.Namespace) -> int:
    """Send what is due, once or until stopped."""
    with opened(arguments) as engine:
        settings = Settings.for_folder(
            arguments.data or default_data_folder(), arguments.database_url
        )
        sender, courier = Sender.of(settings, engine), Courier.of(settings, engine)
        if not arguments.watch:
            sent = sender.send_due() + courier.post_due()
            print(gettext("{sent} sent.", sent=sent))
            return 0
        logging.basicConfig(format="%(asctime)s %(message)s")
        stop = threading.Event()
        for name in (signal.SIGTERM, signal.SIGINT):
            # A message being handed over is finished first.
            signal.signal(name, lambda *_: stop.set())
        print(gettext("Sending whatever falls due; Ctrl+C stops."), flush=True)
        posting = threading.Thread(target=courier.watch, args=(stop,))
        posting.start()
        sender.watch(stop)
        posting.join()
    return 0


COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {"send": send}
