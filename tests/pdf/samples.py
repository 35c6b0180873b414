"""Papers to print: invented, and as hard on the page as a shop can make them."""

from __future__ import annotations

import dataclasses
import math
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from shopflow import documents as data
from shopflow import testfile
from shopflow.calc.totals import totals
from shopflow.documents import cautions
from shopflow.documents.bench_card import BenchCard, BenchHead, ValveSizes
from shopflow.documents.collection import CollectionReceipt, PartBack
from shopflow.documents.invoice import Invoice, Received
from shopflow.documents.money import MoneyLine, Tax
from shopflow.documents.quote import Quote
from shopflow.documents.tags import Tag, TagSheet
from shopflow.services.bench.metal_cuts import Cuts
from shopflow.services.bench.test_gains import gain_between
from shopflow.services.bench.test_results import document_result
from shopflow.testfile import SessionDocument
from shopflow.units import US_CUSTOMARY

AT = datetime(2026, 3, 5, 23, 30, tzinfo=UTC)
URL = "https://shop.test/jobs/J-2026-0041"
WORDS = "Seat beaten wide, guide worn to the stem, short side ridged where the old cutter stopped. "
BLEND = "Blend the bowl, leave the guide boss."
ACCENTS = "Šárka Ågren-Ñúñez, Łódź"
CYRILLIC = "Мастерская Головка, Тверь"
GREEK = "Συνεργείο Κεφαλή, Πάτρα"
CJK = "気筒工房 실린더"
CHINESE = "王小明汽车维修"
ARABIC = "محمد علي سعيد"
HEBREW = "משה כהן"
THAI = "สมชาย ที่นี่ กำลังดี"
DEVANAGARI = "नमस्ते क्षत्रिय"
BENGALI = "বাংলা ইঞ্জিন"
TAMIL = "தமிழ் நாடு"
BURMESE = "မြန်မာ ကောင်း"
KHMER = "ភាសាខ្មែរ ស្រី"
TIBETAN = "བོད་ཡིག"


def session(
    side: str = "intake",
    cylinder: str = "1",
    stage: str = "as received",
    lifts: int = 9,
    gain: float = 1.0,
    whole: bool = True,
    notes: str = "",
) -> SessionDocument:
    """A bench session of a made-up port; without what is optional where it is not `whole`."""
    at = [round(0.050 * place, 3) for place in range(1, lifts + 1)]
    if lifts > 12:
        at = [round(0.015 * place, 3) for place in range(1, lifts + 1)]
    flows = [gain * 205.0 * math.tanh(lift / 0.4) for lift in at]
    content: dict[str, Any] = {
        "schema": 1,
        "side": side,
        "air": {"barometer": "29.4 inHg", "temperature": "70 degF"},
        "valve": {"head_diameter": "1.94 in"},
        "bench": {"test_pressure": "25 inH2O"},
        "readings": {
            "lift_unit": "in",
            "flow_unit": "cfm",
            "lift": at,
            "flow": [[round(flow, 1), round(flow * 1.004, 1)] for flow in flows],
        },
    }
    if whole:
        content |= {
            "stage": stage,
            "cylinder": cylinder,
            "operator": "Ruth Halvane",
            "notes": notes,
            "port": {"area": "1.9 in2"},
            "uncertainty": {"calibration": "1.2 %", "pressure": "0.4 %", "lift": "0.001 in"},
        }
        content["air"]["humidity"] = "45 %"
        content["valve"] |= {
            "stem_diameter": "0.341 in",
            "seat_angle": "45 deg",
            "seat_width": "0.065 in",
            "throat_diameter": "1.70 in",
        }
        content["bench"] |= {
            "name": "North bench",
            "calibration_id": "NB-26",
            "calibration_factor": 1.012,
            "leakage": "0.6 cfm",
        }
    return testfile.check(content)


def name_of(document: SessionDocument) -> str:
    """Its stage and port."""
    port = f", cylinder {document.cylinder}" if document.cylinder else ""
    return (document.stage or "as received") + port


def result(document: SessionDocument, index: int = 1) -> data.SessionResult:
    """The session as a certificate shows it, filled by the code the shop runs."""
    answer = document_result(
        document,
        name=name_of(document),
        calibration="NB-26 of 2026-01-12; factor 1.012, expanded uncertainty 1.2 %; against "
        "master plate set P4; certificate K-2201",
    )
    return dataclasses.replace(answer, measured_at=AT, file_name=f"session-{index}.toml")


def gain(before: SessionDocument, after: SessionDocument) -> data.Gain:
    """One session against another."""
    cuts = Cuts(("Cut seats",))
    return gain_between(before, after, (name_of(before), name_of(after)), US_CUSTOMARY, cuts)


def shop(name: str = "Halvane Cylinder Heads") -> data.Letterhead:
    """A letterhead."""
    return data.Letterhead(name, "12 Weir Lane\nTrewarrick 40417", "555 0142", "post@halvane.test")


def head(**overrides: str) -> data.HeadIdentity:
    """A head."""
    settings = {
        "tag": "J-2026-0041-A",
        "engine_type": "Trewarrick Gannet Four",
        "casting_number": "TM-4417-C",
        "serial": "G 3186",
        "material": "aluminium",
        "ports": "8, round",
        "chamber": "pent roof",
        "condition": "Complete, one bent exhaust valve",
        "parts_received": "Valves, springs, retainers",
    }
    return data.HeadIdentity(**(settings | overrides))


def job(**overrides: str) -> data.JobFacts:
    """A job."""
    settings = {
        "purpose": "street",
        "induction": "turbocharged",
        "boost": "20 psi",
        "rev_limit": "7200 rpm",
        "fuel": "pump, 98 octane",
        "intake_lift": "0.450 in",
        "exhaust_lift": "0.440 in",
        "asked_for": "Bowl and seat work, keep the port size.",
        "approval": "Mara Oslund, telephone, 2026-03-02",
    }
    return data.JobFacts("J-2026-0041", AT, date(2026, 4, 1), **(settings | overrides))


CUSTOMER = data.Party("Mara Oslund", "4 Quay Street\nTrewarrick 40416", "555 0177")
SIZES = {"Letter": data.Display("us", "America/Chicago"), "A4": data.Display("si", "UTC", "A4")}


def certificate(
    documents: list[SessionDocument],
    gains: tuple[data.Gain, ...] = (),
    display: data.Display = SIZES["Letter"],
    **overrides: Any,
) -> data.FlowCertificate:
    """A certificate of these sessions."""
    flow_certificate = data.FlowCertificate(
        shop=shop(),
        display=display,
        number="FC-2026-0007",
        revision=1,
        revision_reason="",
        issued_at=AT,
        issued_by="Ruth Halvane",
        customer=CUSTOMER,
        job=job(),
        head=head(),
        sessions=tuple(result(item, index) for index, item in enumerate(documents, start=1)),
        gains=gains,
        software="0.1.0",
    )
    return dataclasses.replace(flow_certificate, **overrides)


def measured(count: int = 16) -> tuple[data.Measured, ...]:
    """Measured figures, one out of its limits."""
    return tuple(
        data.Measured(
            what="chamber volume" if place % 2 else "guide clearance",
            where=f"cylinder {place}, intake",
            when="after",
            value="44.1 cm3" if place % 2 else "0.0031 in",
            limits="43.6 to 44.6 cm3" if place % 2 else "0.0012 to 0.0024 in",
            verdict="within limits" if place % 2 else "out of limits",
        )
        for place in range(1, count + 1)
    )


def steps(count: int = 10, instructions: str = BLEND) -> tuple[data.Step, ...]:
    """Operations, some signed off."""
    return tuple(
        data.Step(
            name="Seat cut" if place % 2 else "Port work",
            instructions=instructions,
            planned_minutes=45,
            state=("done", "skipped", "started", "planned")[place % 4],
            by="Ruth Halvane",
            at=AT,
            note="Second seat from the front needed an insert.",
            blanks=("Seat width", "Run-out", "Valve head diameter"),
        )
        for place in range(count)
    )


def work_order(
    heads: list[data.WorkOrderHead], display: data.Display = SIZES["Letter"], **overrides: Any
) -> data.WorkOrder:
    """A work order of these heads."""
    new_work_order = data.WorkOrder(
        shop=shop(),
        display=display,
        job=job(),
        customer=CUSTOMER,
        heads=tuple(heads),
        printed_at=AT,
    )
    return dataclasses.replace(new_work_order, **overrides)


def order_page(
    url: str = "https://shop.test/jobs/J-2026-0041", **overrides: Any
) -> data.WorkOrderHead:
    """One head of a work order."""
    work_order_head = data.WorkOrderHead(
        head=head(),
        steps=steps(),
        measured=measured(),
        cautions=tuple(cautions.BY_HAZARD),
        url=url,
    )
    return dataclasses.replace(work_order_head, **overrides)


def hand_off(display: data.Display = SIZES["Letter"], **overrides: Any) -> data.HandOff:
    """A hand-off sheet."""
    figures = (
        data.Figure("Base seat load", "90 lbf", "as entered by the shop"),
        data.Figure("Added for boost", "47.1 lbf", "20 psi on the whole face of a 1.73 in head"),
        data.Figure("Seat load to set", "137.1 lbf", "90 lbf + 47.1 lbf"),
    )
    new_hand_off = data.HandOff(
        shop=shop(),
        display=display,
        job=job(),
        customer=CUSTOMER,
        head=head(),
        addressee="Deep Fjord Engines",
        valves=(data.ValveFigures("intake", figures), data.ValveFigures("exhaust", figures)),
        figures=(data.Figure("Compression ratio", "8.92", "from the volumes measured"),),
        measured=measured(6),
        to_check=("Retainer to seal clearance.",),
        cautions=("Intake springs are not marked: keep them apart from the exhaust ones.",),
        notes="Spare keepers are in the bag.",
        signed_by="Ruth Halvane",
        signed_at=AT,
        written_at=AT,
    )
    return dataclasses.replace(new_hand_off, **overrides)


def money_lines(count: int = 4, detail: str = BLEND) -> tuple[MoneyLine, ...]:
    """Lines of a quote or invoice, 45.05 each."""
    return tuple(
        MoneyLine(
            head().tag, "Seat cut" if place % 2 else "Port work", Decimal("45.05"), detail, 45
        )
        for place in range(count)
    )


def tax(lines: tuple[MoneyLine, ...], rate: str = "8.25", exemption: str = "") -> Tax:
    """The tax on lines, worked out by the code the shop runs."""
    answer = totals((line.price for line in lines), Decimal(rate))
    return Tax(answer.net, answer.rate_percent, answer.tax, answer.total, "Sales tax", exemption)


def quote(display: data.Display = SIZES["Letter"], **overrides: Any) -> Quote:
    """A first quote of four lines."""
    lines = overrides.get("lines", money_lines())
    extras = overrides.get("extras", ())
    new_quote = Quote(
        shop=shop(),
        display=display,
        number="Q-2026-0007",
        revision=1,
        given_at=AT,
        given_by="Ines Carrow",
        valid_until=date(2026, 4, 4),
        customer=CUSTOMER,
        job=job(),
        heads=("J-2026-0041-A: Trewarrick Gannet Four, casting TM-4417-C",),
        lines=lines,
        tax=tax((*lines, *extras)),
        deposit=Decimal("75.00"),
        conditions="Prices hold for the work listed.",
        payment_terms="Due on collection.",
    )
    return dataclasses.replace(new_quote, **overrides)


def invoice(display: data.Display = SIZES["Letter"], **overrides: Any) -> Invoice:
    """An invoice of four lines, partly paid."""
    lines = overrides.get("lines", money_lines(4, ""))
    new_invoice = Invoice(
        shop=shop(),
        display=display,
        kind="Invoice",
        number="INV-2026-0003",
        issued_at=AT,
        issued_by="Ines Carrow",
        customer=CUSTOMER,
        job=job(),
        heads=("J-2026-0041-A: Trewarrick Gannet Four, casting TM-4417-C",),
        lines=lines,
        tax=tax(lines),
        due_on=date(2026, 3, 19),
        received=(Received("Deposit taken", Decimal("75.00")),),
        balance=Decimal("120.07"),
        payment_terms="Due in 14 days.",
        payment_to="Marlow Fork Savings, account 0042 117",
        tax_number="41-7719",
    )
    return dataclasses.replace(new_invoice, **overrides)


def credit_note(display: data.Display = SIZES["Letter"]) -> Invoice:
    """A credit note over that invoice."""
    return invoice(
        display, kind="Credit note", number="CN-2026-0001", due_on=None, received=(),
        balance=Decimal(0), credits="invoice INV-2026-0003 of 2026-03-05",
        reason="Sent to the wrong customer.", payment_terms="", payment_to="",
    )  # fmt: skip


def receipt(display: data.Display = SIZES["Letter"], **overrides: Any) -> CollectionReceipt:
    """Receipt that a customer signs: one head, three kinds of parts, one of them short."""
    collection_receipt = CollectionReceipt(
        shop=shop(),
        display=display,
        customer=CUSTOMER,
        job=job(),
        heads=("J-2026-0041-A: Trewarrick Gannet Four, casting TM-4417-C",),
        shipped=False,
        handed_to="Mara Oslund",
        handed_on=date(2026, 3, 5),
        handed_over_by="Ines Carrow",
        recorded_at=AT,
        parts=(
            PartBack("J-2026-0041-A", "intake valves", 4, 4),
            PartBack("J-2026-0041-A", "exhaust valves", 4, 3, "one bent, scrapped as agreed"),
            PartBack("J-2026-0041-A", "springs", 8, 8),
        ),
        papers=("Flow certificate FC-2026-0007", "Hand-off sheet of J-2026-0041-A"),
    )
    return dataclasses.replace(collection_receipt, **overrides)


def dispatch(display: data.Display = SIZES["Letter"], **overrides: Any) -> CollectionReceipt:
    """The same, shipped, with something left to pay."""
    values: dict[str, Any] = {
        "shipped": True, "carrier": "Tarn Freight", "parcels": 2, "packed_by": "Ines Carrow",
        "tracking_number": "TF 4417 208", "balance": Decimal("120.07"),
        "remarks": "Springs in the second parcel.",
    }  # fmt: skip
    return receipt(display, **(values | overrides))


def card(
    display: data.Display = SIZES["Letter"], lifts: int = 10, heads: int = 1, **overrides: Any
) -> BenchCard:
    """Bench cards."""
    sizes = (
        ValveSizes("Valve head diameter", "1.94 in", "1.50 in"),
        ValveSizes("Stem diameter", "0.341 in", "0.341 in"),
        ValveSizes("Throat diameter"),
        ValveSizes("Seat angle", "45 deg", "45 deg"),
        ValveSizes("Seat width"),
    )
    bench_head = BenchHead(
        head(), tuple(f"{0.05 * place:.3f} in" for place in range(1, lifts + 1)), sizes, URL
    )
    bench_card = BenchCard(
        shop=shop(),
        display=display,
        job=job(),
        customer=CUSTOMER,
        heads=(bench_head,) * heads,
        printed_at=AT,
    )
    return dataclasses.replace(bench_card, **overrides)


def labels(label: str, count: int = 1, start: int = 1, **overrides: str) -> TagSheet:
    """Labels of one head."""
    settings = {
        "tag": head().tag,
        "job": "J-2026-0041",
        "customer": CUSTOMER.name,
        "engine_type": head().engine_type,
        "casting": head().casting_number,
        "promised": "2026-04-01",
        "url": URL,
    }
    return TagSheet(shop().name, (Tag(**(settings | overrides)),) * count, label, AT, start)
