"""Tax of several rates on one document, held against EN 16931-1 and an independent computation."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.calc.totals import Category, by_category
from shopflow.models import (
    Customer,
    DiscountOf,
    ExemptionKind,
    Job,
    JobLine,
    LineKind,
    LineState,
    Shop,
    TaxClass,
)
from shopflow.services.billing import pricing, taxes
from tests.oracle import invoice as oracle

S19, S7 = Category("S", Decimal(19)), Category("S", Decimal(7))
ZERO, EXEMPT = Category("Z", Decimal(0)), Category("E", Decimal(0))


@pytest.mark.source("EN 16931-1:2017, BR-CO-17, BR-S-8 and BR-S-9, from memory; by hand")
def test_each_category_is_taxed_on_its_own_sum():
    """Three lines of 0.03 at 19 %: 0.0171 on their sum is 0.02, line by line it would be 0.03."""
    amounts = [(S19, Decimal("0.03"))] * 3 + [(S7, Decimal("0.50"))]
    sums = by_category(amounts)
    assert [(each.rate_percent, total.net, total.tax) for each, total in sums.items()] == [
        (Decimal(19), Decimal("0.09"), Decimal("0.02")),
        # 0.50 at 7 % is 0.035: half up.
        (Decimal(7), Decimal("0.50"), Decimal("0.04")),
    ]


@pytest.mark.source("EN 16931-1:2017, BR-Z-9 and BR-E-9, from memory")
def test_nothing_is_due_at_the_zero_rate_or_where_exempt():
    sums = by_category([(ZERO, Decimal("99.99")), (EXEMPT, Decimal("0.01"))])
    assert [total.tax for total in sums.values()] == [0, 0]
    assert [category.code for category in sums] == ["E", "Z"]


CLASSES = {"standard": ("S", Decimal("8.25")), "reduced": ("S", Decimal(5)),
           "zero": ("Z", Decimal(0)), "exempt": ("E", Decimal(0))}  # fmt: skip
LINES = st.lists(
    st.fixed_dictionaries(
        {
            "kind": st.sampled_from([LineKind.PART, LineKind.FREIGHT, LineKind.FEE]),
            "tax_class": st.sampled_from(list(TaxClass)),
            "quantity": st.decimals("0.001", 500, places=3),
            "unit_price": st.decimals(0, 9999, places=2),
        }
    ),
    min_size=1,
    max_size=12,
)
PERCENT = st.none() | st.decimals("0.01", 100, places=2)


@given(LINES, PERCENT)
@pytest.mark.source("EN 16931-1:2017, BR-CO-10 to BR-CO-17, in tests/oracle/invoice.py")
def test_invoices_of_any_lines_agree_with_the_standards_rules(
    rows: list[dict[str, Any]], percent: Decimal | None
):
    job, shop = Job(), Shop()
    customer = Customer(
        tax_rate_percent=None, tax_exemption="", exemption_kind=ExemptionKind.EXEMPT
    )
    shop.tax_rate_percent, shop.reduced_tax_rate_percent = Decimal("8.25"), Decimal(5)
    lines = [JobLine(id=key, job=job, state=LineState.CHARGED, **row)
             for key, row in enumerate(rows)]  # fmt: skip
    items = [
        oracle.Item(CLASSES[row["tax_class"]], row["quantity"], row["unit_price"],
                    row["kind"] is LineKind.PART)
        for row in rows
    ]  # fmt: skip
    if percent is not None:
        discount = JobLine(
            id=99, job=job, kind=LineKind.DISCOUNT, state=LineState.CHARGED, percent=percent,
            discount_of=DiscountOf.PARTS, tax_class=TaxClass.STANDARD,
        )  # fmt: skip
        lines.append(discount)
        items.append(oracle.Item(("S", Decimal(0)), allowance=percent))
    shares = [share for charge in pricing.charges(lines) for share in charge.shares]
    sums = by_category(
        (taxes.category(shop, customer, tax_class), amount) for tax_class, amount in shares
    )
    nets = {(each.code, each.rate_percent): total.net for each, total in sums.items()}
    expected = oracle.taxable(items)
    assert {key: net for key, net in nets.items() if net or key in expected} == expected
    due = {(each.code, each.rate_percent): total.tax for each, total in sums.items()}
    assert {key: due[key] for key in expected} == oracle.taxes(items)
    assert sum(nets.values()) == oracle.total_without(items)
    assert sum(nets.values()) + sum(due.values()) == oracle.total_with(items)
