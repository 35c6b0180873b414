"""The forms of a head's work plan: which head to copy, and the name of a template."""

from __future__ import annotations

from collections.abc import Sequence

from wtforms import BooleanField, RadioField

from shopflow.models import Visit
from shopflow.services.counter import job_templates
from shopflow.texts import gettext, lazy
from shopflow.web.fields import TypedField
from shopflow.web.forms import Form
from shopflow.web.routing.like_heads import offer_all


class CopyForm(Form):
    """The head whose plan to copy."""

    refusal = lazy("Not copied yet.")

    source = RadioField(lazy("Copy the plan of"), validate_choice=False)
    all_heads = BooleanField(lazy("Apply to all heads"))

    @classmethod
    def offering(cls, visit: Visit, others: Sequence[Visit]) -> CopyForm:
        """The form with these heads on offer."""
        form = cls()
        form.source.choices = [(row.tag, _in_words(row)) for row in others]
        offer_all(form, visit)
        return form

    @property
    def chosen(self) -> str:
        """Label of the head chosen; empty where none of those on offer is."""
        tags = [tag for tag, _ in self.source.choices]
        return self.source.data if self.source.data in tags else ""


class TemplateForm(Form):
    """The name of a template made of a head's plan."""

    name = TypedField(lazy("Name"), needed=True)
    notes = TypedField(lazy("When to use (optional)"))
    prices = BooleanField(lazy("Keep the prices"), default=True)


def _in_words(row: Visit) -> str:
    """A head with its steps, as "2026-0004-B, Hollin K4, Nila Tarn: teardown, hot wash"."""
    return gettext(
        "{label}, {engine_type}, {customer}: {steps}",
        label=row.tag,
        engine_type=row.head.engine_type.title,
        customer=row.job.customer.name,
        steps=job_templates.steps_in_words(row),
    )
