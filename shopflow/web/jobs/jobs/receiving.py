"""What comes in with a head when it is booked in: parts counted, and photos taken at the counter.

A browser forgets files when a page comes back. Photos are therefore kept as soon as they arrive,
and the page carries a signed note of them until the job is booked in.
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
from shopflow.services.registry.attachments import MOST_AT_ONCE, Held, Upload, hold
from shopflow.texts import gettext, lazy
from shopflow.web.fields import CountField, WordsField
from shopflow.web.folder import KEPT_FOR

PICTURES = {"accept": "image/jpeg,image/png,image/webp"}


class PartCounts(PlainForm):
    """How many came of each usual part; the fields are `parts.USUAL`."""


for _name in received_parts.USUAL:
    setattr(PartCounts, _name.replace(" ", "_"), CountField(_name.capitalize()))


class PartLines(WordsField):
    """Other parts, one a line with its count before it."""

    reader = staticmethod(received_parts.read)


def counted(given: dict[str, Any], other: str) -> dict[str, int]:
    """Every part by name, from the usual counts and the other lines."""
    usual = {
        name: int(given[key])
        for name in received_parts.USUAL
        if given.get(key := name.replace(" ", "_")) and int(given[key])
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
    def held(self) -> list[Held]:
        """The photos kept so far; none where the note of them was tampered with."""
        try:
            return [Held(**row) for row in _signer().loads(self.kept.data or "")]
        except (BadData, TypeError):
            return []

    def keep(self, store: FileStore) -> None:
        """Keep what has just arrived; what is no photo is said at its field.

        Photos of a job never booked in are let go of after a day, and said to be gone.
        """
        if self.camera.data or self.chosen.data:
            store.sweep(time.time() - KEPT_FOR)
        held = {one.sha256: one for one in self.held if store.has(one.sha256)}
        self.chosen.process_errors += [
            gettext(
                "not saved: {one_value}: expired after a day, choose it again", one_value=one.name
            )
            for one in self.held
            if one.sha256 not in held
        ]
        for field in (self.camera, self.chosen):
            for file in field.data or []:
                try:
                    if len(held) >= MOST_AT_ONCE:
                        raise UnfitFileError(
                            gettext(
                                "too many photos: choose at most {most_at_once} per head",
                                most_at_once=MOST_AT_ONCE,
                            )
                        )
                    one = hold(store, Upload(file.filename or "", file.read()))
                    if not one.width:
                        raise UnfitFileError(gettext("not a photo: choose a JPEG, PNG or WebP"))
                    held[one.sha256] = one
                except UnfitFileError as error:
                    # As an error of reading it, the word outlives the form's own checking.
                    field.process_errors.append(
                        gettext(
                            "not saved: {filename}: {error}", filename=file.filename, error=error
                        )
                    )
            field.errors = list(field.process_errors)
            field.data = []
        self.kept.data = _signer().dumps([asdict(one) for one in held.values()]) if held else ""

    @property
    def carried(self) -> dict[str, Any]:
        """What a page that changes its shape takes along."""
        return {"kept": self.kept.data}


def _signer() -> URLSafeSerializer:
    key = current_app.config["SHOPFLOW"].secret_key
    return URLSafeSerializer(key, salt="photos at the counter")
