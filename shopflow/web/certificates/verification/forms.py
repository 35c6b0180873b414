"""The forms of verifying."""

from __future__ import annotations

from flask_wtf.file import FileField

from shopflow.texts import lazy
from shopflow.web.fields import TypedField
from shopflow.web.forms import Form


class CodeForm(Form):
    """A certificate's number and code."""

    refusal = lazy("Not verified yet.")

    number = TypedField(lazy("Certificate number"), lazy("For example FC-2026-0001."), needed=True)
    code = TypedField(
        lazy("Verification code"),
        lazy("Printed on the certificate above the address to verify it at: 16 digits."),
        needed=True,
    )


class FileForm(Form):
    """The PDF itself."""

    refusal = lazy("Not verified yet.")

    file = FileField(
        lazy("The PDF"),
        description=lazy("Any document of the shop, as you received it. It is not saved."),
    )
