"""Forms of people's accounts."""

from __future__ import annotations

from wtforms import BooleanField

from shopflow.models import Role
from shopflow.services.accounts import passwords
from shopflow.texts import lazy
from shopflow.web.fields import ChoiceField, NewPasswordField, TypedField
from shopflow.web.forms import EditForm, Form

ROLES = {
    Role.OWNER.value: lazy("Owner: everything, people and settings too"),
    Role.MACHINIST.value: lazy("Machinist: works on heads, measures, tests"),
    Role.COUNTER.value: lazy("Counter: books in, quotes, prints"),
    Role.READER.value: lazy("Reader: looks, changes nothing"),
}
PASSWORD_HINT = lazy(
    "{advice} Tell them the password; they can change it.", advice=passwords.ADVICE
)


class NewPersonForm(Form):
    """A new account."""

    name = TypedField(lazy("Name"), needed=True)
    login = TypedField(
        lazy("User name"),
        lazy("A short name to sign in with."),
        needed=True,
        render_kw={"autocapitalize": "none", "spellcheck": "false"},
    )
    role = ChoiceField(lazy("Role"), ROLES, default=Role.MACHINIST.value)
    password = NewPasswordField(lazy("First password"), PASSWORD_HINT)


class PersonForm(EditForm):
    """An account's name and role."""

    name = TypedField(lazy("Name"), needed=True)
    role = ChoiceField(lazy("Role"), ROLES)
    active = BooleanField(lazy("Can sign in"))


class ResetForm(Form):
    """A new password for someone else."""

    password = NewPasswordField(lazy("New password"), PASSWORD_HINT)
