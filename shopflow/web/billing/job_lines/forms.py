"""The forms of a job's lines: one a kind, with the fields that kind has."""

from __future__ import annotations

from collections.abc import Sequence

from wtforms import HiddenField

from shopflow.documents.money import percent
from shopflow.models import DiscountOf, Job, JobLine, LineKind, PriceEntry, Shop
from shopflow.services.billing import taxes
from shopflow.services.billing.job_lines import FIELDS
from shopflow.texts import gettext, lazy, translated
from shopflow.web.fields import ChoiceField, DecimalField, MoneyField, TypedField
from shopflow.web.forms import EditForm
from shopflow.web.rights import may

WORKSHOP = (LineKind.PART, LineKind.OUTSIDE_WORK, LineKind.TEXT)
"""Kinds that anybody may add."""

KINDS = {
    LineKind.PART: lazy("Part"),
    LineKind.OUTSIDE_WORK: lazy("Outside work"),
    LineKind.FREIGHT: lazy("Freight"),
    LineKind.FEE: lazy("Fee"),
    LineKind.DISCOUNT: lazy("Discount"),
    LineKind.TEXT: lazy("Text"),
}
EXAMPLES = {
    LineKind.PART: lazy("For example Intake valve, stainless, 38 mm."),
    LineKind.OUTSIDE_WORK: lazy("For example Weld crack between seats, cylinder 2."),
    LineKind.FREIGHT: lazy("For example Crate and freight, two heads."),
    LineKind.FEE: lazy("For example Environmental fee."),
    LineKind.DISCOUNT: lazy("For example Club discount."),
    LineKind.TEXT: lazy("Printed without a price. For example Customer's own springs fitted."),
}
OF = {
    DiscountOf.EVERYTHING: lazy("All lines"),
    DiscountOf.WORK: lazy("Work (steps and outside work)"),
    DiscountOf.PARTS: lazy("Parts"),
}

OFFICE_ONLY = ("unit_price", "percent", "discount_of", "tax_class")
"""Fields that say what is charged."""


def kinds_offered() -> dict[LineKind, str]:
    """Kinds of line that the user may add: the workshop says what is needed, the office prices."""
    kinds = KINDS if may("jobs.approve") else {kind: KINDS[kind] for kind in WORKSHOP}
    return {kind: str(words) for kind, words in kinds.items()}


def class_choices(shop: Shop) -> dict[str, str]:
    """Tax classes, each with the shop's rate."""
    return {
        tax_class.value: f"{translated(tax_class).capitalize()} ({percent(rate)})"
        for tax_class, rate in taxes.rates(shop).items()
    }


class LineForm(EditForm):
    """A line of a job."""

    kind = HiddenField()
    head = ChoiceField(lazy("For"), {})
    entry = ChoiceField(
        lazy("From the price list (optional)"), {},
        lazy("Fills in what you leave blank, at the price of the list."),
    )  # fmt: skip
    description = TypedField(lazy("Description"), needed=True)
    part_number = TypedField(lazy("Part number (optional)"))
    quantity = DecimalField(lazy("Quantity"), default="1")
    unit = TypedField(lazy("Unit (optional)"), lazy("For example pc or h."))
    unit_price = MoneyField(
        lazy("Unit price"), lazy("Before tax. Leave blank if not priced yet; 0.00 for no charge.")
    )
    percent = DecimalField(lazy("Per cent off"), lazy("Or leave blank and enter an amount."))
    discount_of = ChoiceField(
        lazy("Taken of"), {of.value: words for of, words in OF.items()},
        lazy("Per cent only: of these lines of the head or job chosen."),
    )  # fmt: skip
    tax_class = ChoiceField(lazy("Tax class"), {})

    @classmethod
    def of(cls, job: Job, shop: Shop, kind: LineKind, line: JobLine | None = None) -> LineForm:
        """The form for a kind of line, filled from a line where there is one."""
        form = cls(obj=line, data=_start(line, kind))
        form.head.choices = {
            "": gettext("Whole job"),
            **{visit.tag: f"{visit.tag}, {visit.head.engine_type.title}" for visit in job.heads},
        }
        form.tax_class.choices = class_choices(shop)
        form.description.description = EXAMPLES.get(kind, "")
        if kind is LineKind.DISCOUNT:
            form.unit_price.label.text = gettext("Amount off")
            form.unit_price.description = gettext("Before tax. Leave blank for per cent.")
            form.tax_class.description = gettext("Of an amount; per cent follows its lines.")
        shown = {name for name in FIELDS[kind] if name not in OFFICE_ONLY or may("jobs.approve")}
        for name in {name for names in FIELDS.values() for name in names} - shown:
            del form[name]
        return form

    def offer(self, entries: Sequence[PriceEntry]) -> None:
        """Offer parts on the price list; without any the field is left out."""
        if not entries:
            del self.entry
            return
        self.entry.choices = {
            "": gettext("None"),
            **{str(entry.id): _entry_in_words(entry) for entry in entries},
        }
        # Left blank it is the description on the list; the service asks for one at last.
        self.description.flags.required = False

    @property
    def line_values(self) -> dict[str, object]:
        """The fields that are the line's."""
        return {name: value for name, value in self.values.items() if name not in ("kind", "entry")}


def _entry_in_words(entry: PriceEntry) -> str:
    """A part on the price list, with what it is for."""
    words = [entry.description, entry.part_number]
    words.append(entry.engine_type.title if entry.engine_type else "")
    if entry.valves:
        words.append(gettext("{valves} valves", valves=entry.valves))
    return ", ".join(filter(None, words))


def _start(line: JobLine | None, kind: LineKind) -> dict[str, object]:
    """Values that are not the row's own attributes."""
    if line is None:
        return {"kind": kind.value}
    return {"kind": kind.value, "head": line.tag}
