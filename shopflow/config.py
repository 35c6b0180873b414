"""Settings: where the shop's data lies and how the app is served."""

from __future__ import annotations

import os
import secrets
import stat
from dataclasses import dataclass
from pathlib import Path

from shopflow.errors import ShopflowError
from shopflow.texts import gettext

DATABASE_FILE = "shopflow.db"
SECRET_FILE = "secret.key"
PAPERS_FOLDER = "papers"
FILES_FOLDER = "files"
IMPORTS_FOLDER = "imports"
COUNTER_FOLDER = "counter"
SHORTEST_KEY = 32
"""Characters of a secret key, of which LEAST_VARIED differ: `openssl rand -hex 32` gives 64."""

LEAST_VARIED = 10
PRIVATE_UMASK = 0o077
"""Of every process that works with a shop's folder: its files are for its account alone."""

SET_UP_FILE = "set-up.txt"
"""Written once the shop is set up, so that a lost database is not taken for a new shop."""


def default_data_folder() -> Path:
    """The folder used when none is named: SHOPFLOW_DATA, or one in the user's home."""
    named = os.environ.get("SHOPFLOW_DATA")
    return Path(named) if named else Path.home() / "shopflow-data"


def database_address(data: Path, url: str | None = None) -> str:
    """URL of the records: the one given, else SHOPFLOW_DATABASE_URL, else SQLite in the folder."""
    named = url or os.environ.get("SHOPFLOW_DATABASE_URL")
    return named or f"sqlite:///{data.resolve() / DATABASE_FILE}"


def files_address() -> str:
    """URL of the storage that files are shared in: SHOPFLOW_FILES_URL, or none."""
    return os.environ.get("SHOPFLOW_FILES_URL", "")


@dataclass(frozen=True, slots=True)
class Settings:
    """Settings of one running shopflow."""

    data: Path
    database_url: str
    secret_key: str
    files_url: str = ""
    """Storage that several machines share, where the files do not lie in the folder alone."""

    https: bool = False
    """True where users reach it over HTTPS, so that cookies may be kept to it."""

    proxy: str = ""
    """Address of the proxy in front, which alone is believed when it says who asks."""

    webhook_networks: str = ""
    """Networks beside the public internet that webhooks may post to, separated by commas."""

    @property
    def files(self) -> Path:
        """Folder of photos, attachments and the documents sent."""
        return self.data / FILES_FOLDER

    @property
    def imports(self) -> Path:
        """Folder of files to import, from their preview until they are confirmed."""
        return self.data / IMPORTS_FOLDER

    @property
    def counter(self) -> Path:
        """Folder of photos taken at the counter, until their job is booked in."""
        return self.data / COUNTER_FOLDER

    @classmethod
    def for_folder(cls, data: Path, database_url: str | None = None) -> Settings:
        """Settings for a data folder, which is made with its secret key where it is new.

        The folder is for its owner alone, also one that was not. Raises ShopflowError where it
        cannot be made or written to, or the secret key could be guessed.
        """
        data = data.resolve()
        try:
            if (data / SECRET_FILE).exists() or not (data.exists() and any(data.iterdir())):
                _make_private(data)
            secret_key = _secret_key(data / SECRET_FILE)
        except OSError as error:
            raise ShopflowError(
                gettext(
                    "cannot use the folder {data}: {strerror}", data=data, strerror=error.strerror
                )
            ) from None
        return cls(
            data=data,
            database_url=database_address(data, database_url),
            secret_key=secret_key,
            files_url=files_address(),
            https=os.environ.get("SHOPFLOW_HTTPS", "") == "1",
            proxy=os.environ.get("SHOPFLOW_PROXY", ""),
            webhook_networks=os.environ.get("SHOPFLOW_WEBHOOK_NETWORKS", ""),
        )


def _secret_key(path: Path) -> str:
    """The key that signs cookies: from SHOPFLOW_SECRET_KEY, or made once for this folder."""
    configured = os.environ.get("SHOPFLOW_SECRET_KEY")
    if configured is not None:
        return _strong(configured, "SHOPFLOW_SECRET_KEY")
    try:
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return _strong(path.read_text(encoding="ascii", errors="replace").strip(), str(path))
    with os.fdopen(descriptor, "w", encoding="ascii") as file:
        key = secrets.token_hex(32)
        file.write(key + "\n")
    return key


def _strong(key: str, where: str) -> str:
    """A key that nobody guesses. Raises ShopflowError."""
    if len(key) >= SHORTEST_KEY and len({*key}) >= LEAST_VARIED:
        return key
    raise ShopflowError(
        gettext(
            "the secret key in {where} is empty or easy to guess, and whoever knows it can sign in "
            "as anyone. Use {shortest} or more random characters, for example from 'openssl rand "
            "-hex 32', or a backup's secret.key",
            where=where,
            shortest=SHORTEST_KEY,
        )
    )


def _make_private(data: Path) -> None:
    """Make the folder where it is new, and shut it, its records and its secrets to others."""
    data.mkdir(mode=0o700, parents=True, exist_ok=True)
    state = data.stat()
    if state.st_uid != os.geteuid() or state.st_mode & stat.S_IWOTH:
        # Somebody else's, or everybody's as /tmp.
        return
    data.chmod(0o700)
    for path in (*data.glob(f"{DATABASE_FILE}*"), *data.glob("*.key"), *data.glob("*.pem")):
        if path.is_file() and not path.is_symlink():
            path.chmod(0o600)
