"""The shop's folder, as requests reach it: its files, and the key that seals its secrets."""

from __future__ import annotations

from flask import current_app

from shopflow.config import COUNTER_FOLDER, Settings
from shopflow.files import FileStore, store_for
from shopflow.mail.sealing import Seal

KEPT_FOR = 24 * 3600.0
"""Seconds that what waits is kept: a file to import, a photo of a job not booked in yet."""


def store() -> FileStore:
    """Store of photos, attachments and the documents sent."""
    return store_for(_settings().files, _settings().files_url)


def imports() -> FileStore:
    """Store of files to import, until they are confirmed."""
    return FileStore(_settings().imports)


def counter() -> FileStore:
    """Store of photos taken at the counter, until their job is booked in."""
    return store_for(_settings().counter, _settings().files_url, COUNTER_FOLDER)


def seal() -> Seal:
    """Seal that encrypts a secret before it enters the database."""
    return Seal(_settings().secret_key)


def _settings() -> Settings:
    settings: Settings = current_app.config["SHOPFLOW"]
    return settings
