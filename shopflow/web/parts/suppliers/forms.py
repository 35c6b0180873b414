"""The form of a supplier."""

from __future__ import annotations

from wtforms import BooleanField

from shopflow.services.parts import suppliers
from shopflow.texts import lazy
from shopflow.web.fields import TypedField, WordsField
from shopflow.web.forms import EditForm


class _EmailField(TypedField):
    """An e-mail address, or none."""

    reader = staticmethod(suppliers.SPECIFICATION["email"])


class SupplierForm(EditForm):
    """A supplier of parts or a vendor of outside work."""

    name = TypedField(lazy("Name"), needed=True)
    contact = TypedField(lazy("Contact (optional)"))
    email = _EmailField(
        lazy("E-mail (optional)"), lazy("Purchase orders go here."), render_kw={"type": "email"}
    )
    phone = TypedField(lazy("Telephone (optional)"), render_kw={"type": "tel"})
    address = WordsField(lazy("Address (optional)"))
    account_number = TypedField(
        lazy("Our customer number (optional)"), lazy("Printed on purchase orders.")
    )
    notes = WordsField(lazy("Notes (optional)"))
    active = BooleanField(lazy("In use"), default=True)
