"""Parts counted and photos taken when a head is booked in.

A browser forgets files when a page comes back. Photos are therefore stored as soon as they arrive,
and the page carries a signed list of them until the job is booked in.
"""

from __future__ import annotations

import time
from dataclasses import asdict
from typing import Any

from flask import current_app
from flask_wtf.file import MultipleFileField
from itsdangerous import BadData, URLSafeSerializer
from wtforms import Form as PlainForm
from wtforms import HiddenField

from shopflow.files import FileStore, UnfitFileError
from shopflow.services.jobs import received_parts
from shopflow.services.registry.attachments import MOST_AT_ONCE, StagedFile, Upload, stage
from shopflow.texts import gettext, lazy
from shopflow.web.fields import CountField, WordsField
from shopflow.web.folder import KEPT_FOR

PICTURES = {"accept": "image/jpeg,image/png,image/webp"}


class PartCounts(PlainForm):
    """Number of each usual part; the fields are those of `received_parts.USUAL`."""

    intake_valves = CountField(lazy("Intake valves"))
    exhaust_valves = CountField(lazy("Exhaust valves"))
    springs = CountField(lazy("Springs"))
    retainers = CountField(lazy("Retainers"))
    locks = CountField(lazy("Locks"))
    cams = CountField(lazy("Cams"))
    followers = CountField(lazy("Followers"))
    bolts = CountField(lazy("Bolts"))


class PartLines(WordsField):
    """Other parts, one a line with its count before it."""

    reader = staticmethod(received_parts.read)


def counted(counts: dict[str, Any], other: str) -> dict[str, int]:
    """Every part by name, from the usual counts and the other lines."""
    usual = {
        str(name): int(counts[key])
        for key, name in received_parts.USUAL.items()
        if counts.get(key) and int(counts[key])
    }
    for name, count in received_parts.read(other).items():
        usual[name] = usual.get(name, 0) + count
    return usual


class PhotosPart(PlainForm):
    """Photos of a head: one taken now, several chosen, and those kept since the page was opened."""

    camera = MultipleFileField(
        lazy("Take a photo"), render_kw={**PICTURES, "capture": "environment"}
    )
    chosen = MultipleFileField(lazy("Photos taken before"), render_kw=PICTURES)
    kept = HiddenField()

    @property
    def staged(self) -> list[StagedFile]:
        """The photos uploaded so far; none where the signed list was tampered with."""
        try:
            return [StagedFile(**row) for row in _signer().loads(self.kept.data or "")]
        except (BadData, TypeError):
            return []

    def keep(self, store: FileStore) -> None:
        """Store the photos just uploaded; other files become errors of their field.

        Photos of a job never booked in are deleted after a day, with a message.
        """
        if self.camera.data or self.chosen.data:
            store.sweep(time.time() - KEPT_FOR)
        staged = {photo.sha256: photo for photo in self.staged if store.has(photo.sha256)}
        self.chosen.process_errors += [
            gettext("not saved: {photo}: expired after a day, choose it again", photo=photo.name)
            for photo in self.staged
            if photo.sha256 not in staged
        ]
        for field in (self.camera, self.chosen):
            for file in field.data or []:
                try:
                    if len(staged) >= MOST_AT_ONCE:
                        raise UnfitFileError(
                            gettext(
                                "too many photos: choose at most {most_at_once} per head",
                                most_at_once=MOST_AT_ONCE,
                            )
                        )
                    photo = stage(store, Upload(file.filename or "", file.read()))
                    if not photo.width:
                        raise UnfitFileError(gettext("not a photo: choose a JPEG, PNG or WebP"))
                    staged[photo.sha256] = photo
                except UnfitFileError as error:
                    # As an error of reading it, the word outlives the form's own checking.
                    field.process_errors.append(
                        gettext(
                            "not saved: {filename}: {error}", filename=file.filename, error=error
                        )
                    )
            field.errors = list(field.process_errors)
            field.data = []
        self.kept.data = (
            _signer().dumps([asdict(photo) for photo in staged.values()]) if staged else ""
        )

    @property
    def carried(self) -> dict[str, Any]:
        """Fields that a page carries along when it changes its shape."""
        return {"kept": self.kept.data}


def _signer() -> URLSafeSerializer:
    key = current_app.config["SHOPFLOW"].secret_key
    return URLSafeSerializer(key, salt="photos at the counter")
