"""Settings: where the shop's data lies and how the app is served."""

from __future__ import annotations

import os
import secrets
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

        Raises ShopflowError where the folder cannot be made or written to.
        """
        data = data.resolve()
        try:
            data.mkdir(parents=True, exist_ok=True)
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
        )


def _secret_key(path: Path) -> str:
    """The key that signs cookies: from SHOPFLOW_SECRET_KEY, or made once for this folder."""
    configured = os.environ.get("SHOPFLOW_SECRET_KEY")
    if configured:
        return configured
    try:
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return path.read_text(encoding="ascii").strip()
    with os.fdopen(descriptor, "w", encoding="ascii") as file:
        key = secrets.token_hex(32)
        file.write(key + "\n")
    return key
