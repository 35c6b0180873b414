"""The key that a document is signed with, printed to be compared."""

from __future__ import annotations

from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Flowable

from shopflow.documents import SigningKey
from shopflow.papers.style import NOTE, para
from shopflow.texts import gettext


def signed_note(key: SigningKey | None, style: ParagraphStyle = NOTE) -> list[Flowable]:
    """The key, and where the PDF is verified; nothing on a document without a signature."""
    if key is None:
        return []
    if key.verify_at:
        text = gettext(
            "This PDF is signed with the shop's key {key}. Verify it at {address}.",
            key=key.key,
            address=key.verify_at,
        )
    else:
        text = gettext("This PDF is signed with the shop's key {key}.", key=key.key)
    return [para(text, style)]
