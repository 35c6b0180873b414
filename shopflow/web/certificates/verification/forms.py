"""The forms of verifying."""

from __future__ import annotations

from flask_wtf.file import FileField

from shopflow.web.fields import TypedField
from shopflow.web.forms import Form


class CodeForm(Form):
    """A certificate's number and code."""

    refusal = "Not looked up yet."

    number = TypedField("Certificate number", "For example FC-2026-0001.", needed=True)
    code = TypedField(
        "Verification code", "Printed at the end of the certificate, 16 digits.", needed=True
    )


class FileForm(Form):
    """The PDF itself."""

    refusal = "Not looked at yet."

    file = FileField(
        "The PDF",
        description="Any document of the shop, as you received it. It is not kept.",
    )
