"""One post to one address, capped in time and size; its answer is a status and nothing else."""

from __future__ import annotations

import http.client
import socket
import ssl
import threading
import time
from collections.abc import Mapping, Sequence
from contextlib import suppress

from shopflow.errors import ShopflowError
from shopflow.texts import gettext
from shopflow.webhooks.destination import Destination, Network, resolve

PATIENCE = 10.0
"""Seconds for all of it, from connecting to the status of the answer."""


class PostError(ShopflowError):
    """No answer came, or none that is one."""


class _Pinned(http.client.HTTPConnection):
    """A connection to an address that was judged, whatever the name resolves to by now."""

    def __init__(self, destination: Destination, address: str, patience: float) -> None:
        super().__init__(destination.host, destination.port, timeout=patience)
        self._is_private = destination.scheme == "https"
        self._address = address
        self._patience = patience
        self._until = time.monotonic() + patience
        self.default_port = 443 if self._is_private else 80

    def connect(self) -> None:
        """Connect to the address, and shake hands in the name of the host."""
        self.sock = socket.create_connection((self._address, self.port), self._patience)
        if self.is_over():
            raise TimeoutError
        if self._is_private:
            context = ssl.create_default_context()
            # Wrapped before the handshake, so that `cut` reaches it in the middle of one.
            self.sock = context.wrap_socket(
                self.sock, server_hostname=self.host, do_handshake_on_connect=False
            )
            self.sock.do_handshake()

    def is_over(self) -> bool:
        """True where the time for all of it is over."""
        return time.monotonic() >= self._until

    def cut(self) -> None:
        """End whatever the connection is waiting for."""
        sock = self.sock
        if sock is not None:
            with suppress(OSError):
                # Not the method of a TLS socket, which another thread is reading from.
                socket.socket.shutdown(sock, socket.SHUT_RDWR)


def post(
    destination: Destination,
    body: str,
    headers: Mapping[str, str],
    allowed: Sequence[Network],
    patience: float = PATIENCE,
) -> int:
    """Post a body in JSON; the status of the answer, which is not read, and no redirect followed.

    Raises UnfitAddressError, PostError.
    """
    connection = _Pinned(destination, resolve(destination, allowed), patience)
    # A timeout of the socket begins anew with each byte that a slow server sends.
    watch = threading.Timer(patience, connection.cut)
    watch.daemon = True
    watch.start()
    sent = {"Content-Type": "application/json", "User-Agent": "shopflow", "Connection": "close"}
    try:
        connection.request("POST", destination.target, body.encode(), {**sent, **headers})
        status = connection.getresponse().status
        if connection.is_over():
            # Headers that were cut off are taken for the last ones.
            raise TimeoutError
        return status
    except TimeoutError:
        raise PostError(gettext("no answer within {seconds} seconds", seconds=patience)) from None
    except ssl.SSLCertVerificationError as error:
        raise PostError(
            gettext("its certificate cannot be trusted: {error}", error=error.verify_message)
        ) from None
    except (OSError, http.client.HTTPException, ValueError) as error:
        if connection.is_over():
            raise PostError(
                gettext("no answer within {seconds} seconds", seconds=patience)
            ) from None
        words = str(error) or type(error).__name__
        raise PostError(gettext("cannot be reached: {error}", error=words[:300])) from None
    finally:
        watch.cancel()
        connection.close()
