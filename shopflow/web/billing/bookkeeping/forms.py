"""The forms of accounts and columns."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from shopflow.services.billing.bookkeeping import FIELDS, Account
from shopflow.texts import gettext, lazy
from shopflow.web.fields import TypedField, WordsField
from shopflow.web.forms import Form


class AccountsForm(Form):
    """Numbers and names of the shop's accounts."""

    typed: dict[str, str]
    """Key of the account of each number on the form."""

    @property
    def named(self) -> dict[str, tuple[str, str]]:
        """Number and name typed, by the account's key."""
        values = self.values
        return {
            key: (values[f"code-{number}"] or "", values[f"name-{number}"] or "")
            for number, key in self.typed.items()
        }


def accounts_form(accounts: Sequence[Account]) -> AccountsForm:
    """The form with a number and a name to an account."""
    fields: dict[str, Any] = {"typed": {}}
    for number, account in enumerate(accounts, start=1):
        fields["typed"][str(number)] = account.key
        fields[f"code-{number}"] = TypedField(
            gettext("Number of {account}", account=account.name), default=account.code
        )
        fields[f"name-{number}"] = TypedField(
            gettext("Name of {account}", account=account.name), default=account.own_name
        )
    form: AccountsForm = type("AccountsFormOfShop", (AccountsForm,), fields)()
    return form


class ColumnsForm(Form):
    """Columns of the file, one to a line."""

    columns = WordsField(
        lazy("Columns"),
        lazy("One per line, as field = heading. For example account = Konto."),
        rows=10,
        needed=True,
    )

    @property
    def offered(self) -> list[str]:
        """Fields that a column can hold."""
        return list(FIELDS)
