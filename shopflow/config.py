"""Settings: where the shop's data lies and how the app is served."""

from __future__ import annotations

import os
import secrets
from dataclasses import dataclass
from pathlib import Path

DATABASE_FILE = "shopflow.db"
SECRET_FILE = "secret.key"
PAPERS_FOLDER = "papers"


def default_data_folder() -> Path:
    """The folder used when none is named: SHOPFLOW_DATA, or one in the user's home."""
    named = os.environ.get("SHOPFLOW_DATA")
    return Path(named) if named else Path.home() / "shopflow-data"


@dataclass(frozen=True, slots=True)
class Settings:
    """What one running shopflow needs to know."""

    data: Path
    database_url: str
    secret_key: str
    https: bool = False
    """Whether people reach it over HTTPS, so that cookies may be kept to it."""

    @classmethod
    def for_folder(cls, data: Path, database_url: str | None = None) -> Settings:
        """Settings for a data folder, which is made with its secret key where it is new.

        The URL may also come from SHOPFLOW_DATABASE_URL; the default is SQLite in the folder.
        """
        data = data.resolve()
        data.mkdir(parents=True, exist_ok=True)
        url = database_url or os.environ.get("SHOPFLOW_DATABASE_URL")
        return cls(
            data=data,
            database_url=url or f"sqlite:///{data / DATABASE_FILE}",
            secret_key=_secret_key(data / SECRET_FILE),
            https=os.environ.get("SHOPFLOW_HTTPS", "") == "1",
        )


def _secret_key(path: Path) -> str:
    """The key that signs cookies: from SHOPFLOW_SECRET_KEY, or made once for this folder."""
    given = os.environ.get("SHOPFLOW_SECRET_KEY")
    if given:
        return given
    try:
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return path.read_text(encoding="ascii").strip()
    with os.fdopen(descriptor, "w", encoding="ascii") as file:
        key = secrets.token_hex(32)
        file.write(key + "\n")
    return key
