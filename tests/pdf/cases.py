"""Papers by name: the usual ones in both sizes, and those hard on a page."""

from __future__ import annotations

import dataclasses
import io
from collections.abc import Callable

from PIL import Image

from shopflow.papers import data, flow_certificate, hand_off, work_order
from tests.pdf import samples as s

LONG = "Longwinded & Daughters, Unabridged-and-Unhyphenated " * 5
UNBROKEN = "X" * 150
STORY = s.WORDS * 70
"""Some six thousand characters: more than a page, in one cell."""

BARE = data.HeadIdentity("T", "E")
BARE_JOB = data.JobFacts("J", s.AT)


def pairs(ports: int, lifts: int = 9) -> list[s.SessionDocument]:
    """Sessions of several ports, each as received and after work."""
    return [
        s.session(side, str(cylinder), stage, lifts, scale * gain)
        for side, scale in (("intake", 1.0), ("exhaust", 0.8))
        for cylinder in range(1, ports // 2 + 1)
        for stage, gain in (("as received", 1 - cylinder / 90), ("after port work", 1.07))
    ]


def certified(
    documents: list[s.SessionDocument], size: str = "Letter", **overrides: object
) -> bytes:
    """A certificate of as received and after, of each port."""
    gains = tuple(
        s.gain(before, after)
        for before, after in zip(documents[::2], documents[1::2], strict=False)
    )
    settings = {"url": "https://shop.test/verify/FC-2026-0007"} | overrides
    return flow_certificate(s.certificate(documents, gains, s.SIZES[size], **settings))


def picture(width: int, height: int, kind: str = "JPEG") -> bytes:
    """A grey picture."""
    out = io.BytesIO()
    Image.new("RGB", (width, height), "#9a9a9a").save(out, kind)
    return out.getvalue()


PHOTOS = (
    data.Photo("Exhaust seat 3, as received", picture(640, 480)),
    data.Photo("Deck", picture(300, 900, "PNG")),
    data.Photo(s.WORDS, picture(1200, 200)),
    data.Photo("What is no picture", b"not a picture"),
)


def ordered(size: str = "Letter", **overrides: object) -> bytes:
    """A work order of one head."""
    return work_order(s.work_order([s.order_page(**overrides)], s.SIZES[size]))


def long_certificate() -> bytes:
    """Every text as long as it can be."""
    odd = [
        dataclasses.replace(s.result(s.session(stage=s.WORDS * 3, notes=STORY)), file_name=""),
        dataclasses.replace(
            s.result(s.session(lifts=1)),
            excluded=(data.Excluded("0.2 in", "101.5 cfm", STORY),),
            warnings=(STORY,),
            opinions=(s.WORDS,),
            calibration=STORY,
            calibration_overdue=True,
        ),
    ]
    return flow_certificate(
        s.certificate(
            [],
            sessions=tuple(odd),
            customer=data.Party(LONG, f"{LONG}\n{LONG}"),
            head=s.head(condition=STORY, engine_type=LONG, serial=UNBROKEN, tag="T" * 50),
            shop=s.shop(LONG),
            job=s.job(purpose=LONG, fuel=LONG),
            revision=3,
            revision_reason=STORY,
            issued_by=LONG,
            url="https://shop.test/verify/FC-2026-0007",
        )
    )


def long_work_order() -> bytes:
    """Every text as long as it can be, on A4, not approved."""
    page = s.order_page(
        steps=s.steps(5, STORY),
        cautions=("springs", s.WORDS * 20),
        head=s.head(condition=STORY, tag="T" * 50, engine_type=LONG, serial=UNBROKEN),
        photos=PHOTOS,
    )
    job = s.job(asked_for=STORY, approval="", purpose=LONG)
    return work_order(s.work_order([page], s.SIZES["A4"], job=job, shop=s.shop(LONG)))


def long_hand_off() -> bytes:
    """Every text as long as it can be, on A4."""
    figures = tuple(
        data.Figure(f"Figure {place}, {s.WORDS}", "9" * 90, s.WORDS * 40) for place in range(3)
    )
    return hand_off(
        s.hand_off(
            s.SIZES["A4"],
            valves=(data.ValveFigures("intake", figures), data.ValveFigures("exhaust", figures)),
            addressee=LONG,
            to_check=(STORY,),
            cautions=(STORY,),
            notes=STORY,
            measured=s.measured(32),
            shop=s.shop(LONG),
            head=s.head(tag="T" * 50, serial=UNBROKEN),
            signed_by=LONG,
        )
    )


def bare_hand_off() -> bytes:
    """A hand-off sheet with nothing on it, not signed."""
    note = s.hand_off(
        valves=(), figures=(), measured=(), to_check=(), cautions=(), notes="", addressee="",
        signed_by="", signed_at=None, head=BARE, customer=data.Party("X"), job=BARE_JOB,
    )  # fmt: skip
    return hand_off(note)


def scripts() -> bytes:
    """Names in several scripts, of which the typeface knows four."""
    customer = data.Party(f"{s.CJK} محمد \x00\x0b {s.ACCENTS} Zoe\u0308 & <b>Sons</b>")
    return flow_certificate(
        s.certificate([s.session(stage=s.GREEK)], customer=customer, shop=s.shop(s.CYRILLIC))
    )


CASES: dict[str, Callable[[], bytes]] = {
    "certificate, Letter, US": lambda: certified(pairs(2)),
    "certificate, A4, SI": lambda: certified(pairs(2), "A4"),
    "certificate, one session of one lift, nothing optional": lambda: flow_certificate(
        s.certificate(
            [s.session(lifts=1, whole=False)],
            customer=data.Party("X"),
            head=BARE,
            job=BARE_JOB,
            shop=data.Letterhead("S"),
        )
    ),
    "certificate, forty lifts": lambda: certified(pairs(2, 40), "A4"),
    "certificate, sixteen ports": lambda: certified(pairs(16)),
    "certificate, longest texts": long_certificate,
    "certificate, other scripts": scripts,
    "work order, Letter": lambda: ordered(photos=PHOTOS),
    "work order, A4": lambda: ordered("A4"),
    "work order, two heads": lambda: work_order(
        s.work_order([s.order_page(), s.order_page(head=s.head(tag="J-2026-0041-B"))])
    ),
    "work order, nothing optional": lambda: work_order(
        s.work_order([data.WorkOrderHead(BARE, (), (), ())], customer=data.Party("X"), job=BARE_JOB)
    ),
    "work order, longest texts": long_work_order,
    "hand-off, Letter": lambda: hand_off(s.hand_off()),
    "hand-off, A4, two heads": lambda: hand_off(*[s.hand_off(s.SIZES["A4"])] * 2),
    "hand-off, nothing optional": bare_hand_off,
    "hand-off, longest texts": long_hand_off,
}
