"""Required contents of a flow certificate, and the recalculation of its results."""

from __future__ import annotations

import dataclasses
import io
import re
from decimal import Decimal
from typing import Any

import pikepdf
import pymupdf
import pytest

from shopflow import documents, papers, testfile
from shopflow.calc.reduction import reduce
from shopflow.calc.rounding import matched
from shopflow.documents import certificate_text
from shopflow.documents.snapshot import from_plain, to_plain
from shopflow.papers.numbers import stated
from shopflow.services.certificates.recomputation import recompute
from shopflow.units import Quantity
from tests.optional import present
from tests.pdf import samples

BEFORE = samples.session(notes="Entry radius 12 mm, no bore adapter, stub pipe 40 mm.")
AFTER = samples.session(stage="seats and bowls", gain=1.06)


def left_out() -> documents.SessionResult:
    """The later session with a reading left out."""
    run = testfile.ExcludedRun(AFTER.lifts[2], 3, AFTER.flows[2][0], "tape came loose")
    return samples.result(dataclasses.replace(AFTER, excluded=(run,)), 2)


CERTIFICATE = samples.certificate(
    [BEFORE],
    gains=(samples.gain(BEFORE, AFTER),),
    sessions=(samples.result(BEFORE, 1), left_out()),
    revision=2,
    revision_reason="Serial number mistyped",
    drafted_by="Odile Marsh",
    checked_by="Tarn Weir",
    checked_at=samples.AT,
    check_statement="Read over against the bench sheets.",
    compared_with=str(certificate_text.COMPARED["the first"]),
    departures=f"The bore adapter was 2 mm over. {certificate_text.LEFT_OUT}",
    opinions=("The bowl is done; the port may yet take a little.",),
    url="https://shop.test/verify/FC-2026-0007?code=0000",
    verify_at="https://shop.test/verify",
)
PDF = papers.flow_certificate(CERTIFICATE)


def text(content: bytes = PDF) -> str:
    """All of a certificate's words, on one line."""
    answer = pymupdf.open(stream=content, filetype="pdf")
    return " ".join(" ".join(page.get_text() for page in answer).split())


def test_the_chart_names_the_pressure_and_the_air_of_its_flow() -> None:
    assert "Intake flow at 28 inH₂O in air of 1.204 kg/m³, with its uncertainty" in text()
    earlier = tuple(
        dataclasses.replace(
            session, points=tuple(dataclasses.replace(point, more=()) for point in session.points)
        )
        for session in CERTIFICATE.sessions
    )
    old = dataclasses.replace(CERTIFICATE, sessions=earlier)
    drawn = papers.flow_certificate(old)
    assert "Intake flow at 28 inH₂O by the root, with its uncertainty" in text(drawn)
    assert from_plain(documents.FlowCertificate, to_plain(old)) == old
    assert recompute(old, files_of(old)).agrees


PORT = documents.AlongPort(
    side="intake",
    cylinder="1",
    datum="valve seat",
    from_seat=True,
    surveys=(
        documents.PortSurvey(
            "before", (documents.SectionPoint(0.025, 1.2e-3, 1.0, 0.9, 80.0, 0.24),), None, 1.2e-3
        ),
        documents.PortSurvey(
            "after",
            (
                documents.SectionPoint(0.012, 1.4e-3, 1.12, 1.0, 70.0, 0.21),
                documents.SectionPoint(0.025, 1.25e-3, 1.0, 0.9, 78.0, None, choked=True),
            ),
            17.2e-6,
            1.32e-3,
        ),
    ),
    lift=0.010,
    flow=0.0944,
    curtain=1.4e-3,
    least=1.3e-3,
    throat=1.39e-3,
    tighter="port",
)


def test_the_port_stands_with_its_session_where_sections_were_measured() -> None:
    session = dataclasses.replace(samples.result(BEFORE, 1), along_port=PORT)
    answer = text(papers.flow_certificate(samples.certificate([], sessions=(session,))))
    # 0.0944 m3/s is 200.0 cfm, 10 mm 0.394 in, 25 mm 0.984 in, 1.25e-3 m2 1.938 in2 (NIST SP 811).
    for part in (
        "Along the port: 200.0 cfm by the root of the pressures, at 0.394 in of lift",
        "Tightest after the work: 1.938 in² at 0.984 in from the valve seat, choked",
        "The port is tighter than the valve",
        "17.2 cm³, mean area 2.046 in²",
        "before the work",
        "without losses",
    ):
        assert part in answer, part
    assert "Along the port" not in text()


def test_a_certificate_from_before_there_were_sections_keeps_its_code() -> None:
    plain = to_plain(CERTIFICATE)
    assert all("along_port" not in session for session in plain["sessions"])
    with_port = dataclasses.replace(CERTIFICATE.sessions[0], along_port=PORT)
    changed = dataclasses.replace(CERTIFICATE, sessions=(with_port,))
    assert from_plain(documents.FlowCertificate, to_plain(changed)) == changed
    assert changed.verification_code != CERTIFICATE.verification_code


# ISO/IEC 17025:2017, 7.8, in our own words; the last rows are what flow needs besides.
CARRIED = {
    "a title": ["Flow certificate"],
    "the shop and where the work was done": ["Halvane Cylinder Heads", "12 Weir Lane"],
    "a number of its own": ["FC-2026-0007 revision 2"],
    "a marked end": ["End of certificate"],
    "the customer": ["Mara Oslund", "4 Quay Street"],
    "the method": ["Method", "Steady flow of room air through the port"],
    "the item and how it is known": ["Trewarrick Gannet Four", "TM-4417-C", "G 3186"],
    "the item's condition": ["Complete, one bent exhaust valve"],
    "when it was received, tested and issued": ["Received", "Tested", "Issued", "2026-03-05"],
    "that the results are of this item alone": ["The results are of this head alone"],
    "results with their units": ["Lift", "Flow", "cfm", "velocity"],
    "departures from the method": ["tape came loose", "The bore adapter was 2 mm over."],
    "who authorised it": ["Authorized by", "Ruth Halvane"],
    "who checked it, and how": ["Checked by Tarn Weir", "Read over against the bench sheets."],
    "opinions, marked as such": ["Opinions of the shop", "is opinion", "The bowl is done"],
    "what is compared with what": ["compared with the first one of the same port"],
    "how it is verified": ["Verification code", CERTIFICATE.verification_code, "shop.test/verify"],
    "what the customer stated, marked as such": [
        "Stated by the customer, not verified",
        "pump, 98 octane",
    ],
    "the conditions in the room": ["29.4 inHg", "70 °F", "45 %"],
    "the uncertainty and what it means": [
        "expanded for 95 %",
        "degrees of freedom",
        "JCGM 100:2008",
    ],
    "the calibration relied on": ["NB-26 of 2026-01-12", "master plate set P4", "K-2201"],
    "what an amendment replaces, and why": ["replaces revision 1", "Serial number mistyped"],
    "no accreditation": ["no accreditation is claimed"],
    "the test pressure and which inch of water": ["25 inH₂O", "249.08891 Pa"],
    "the direction": ["drawn from the room", "drawn in"],
    "the density flows are stated at": ["room-air density", "Air density"],
    "valve and reference diameters": ["1.94 in", "1.70 in", "0.341 in"],
    "entry radius, stub pipe and adapter": ["Entry radius 12 mm", "stub pipe 40 mm", "adapter"],
    "the leakage": ["0.6 cfm, as indicated"],
    "the lifts": ["0.050", "0.450"],
    "flow as tested with its pressure": ["Flow as tested at 25 inH₂O"],
    "the two ways of restating, told apart": ["isentropic, cfm", "root, cfm", "a convention"],
    "the pressure and the air of the flows beside a gain": ["28 inH₂O, in air of 1.204 kg/m³"],
    "the decision rule": ["at most once in twenty, over all lifts together"],
}


@pytest.mark.parametrize("words", CARRIED.values(), ids=CARRIED.keys())
def test_it_carries(words: list[str]) -> None:
    answer = text().lower()
    missing = [word for word in words if word.lower() not in answer]
    assert not missing


def test_the_conclusion_is_one_plain_sentence_and_what_was_cut_before_the_results() -> None:
    gain = CERTIFICATE.gains[0]
    assert re.fullmatch(
        r"\+6\.0 ± 1\.\d % in effective area, 0\.05 to 0\.45 in: a gain; "
        r"flow from \d+\.\d to \d+\.\d cfm at 0\.450 in\. "
        r"Seats and bowls, cylinder 1, against as received, cylinder 1\. "
        r"Work between them: Cut seats\.",
        gain.conclusion,
    )
    answer = text()
    assert answer.index(f"Intake: {gain.conclusion}") < answer.index("Results in brief")


def test_flow_as_tested_is_printed_before_what_it_is_restated_to() -> None:
    point = CERTIFICATE.sessions[0].points[-1]
    assert point.flow_as_tested
    assert point.flow_isentropic
    assert point.margins
    units = CERTIFICATE.display.units
    row = " ".join(
        units.number(value, "flow")
        for value in (
            point.flow_as_tested,
            point.margins.flow_as_tested,
            point.flow_isentropic,
            point.flow,
        )
    )
    assert f"{point.lift_over_diameter:.3f} {point.runs} {row}" in text()


def bare_certificate() -> documents.FlowCertificate:
    """A certificate of two tests that say nothing of their readings, against each other."""
    before, after = (
        without_repeats(samples.session(whole=False, gain=gain)) for gain in (1.0, 1.06)
    )
    return samples.certificate([before, after], (samples.gain(before, after),))


def without_repeats(document: testfile.SessionDocument) -> testfile.SessionDocument:
    return dataclasses.replace(document, flows=tuple(runs[:1] for runs in document.flows))


def test_a_blank_uncertainty_is_not_stated_on_the_certificate() -> None:
    content = bare_certificate()
    answer = text(papers.flow_certificate(content))
    assert "a gain" not in answer.partition("Method")[0]
    assert "uncertainty not stated; flow from" in answer
    assert "Uncertainty: not stated." in answer
    for point in content.sessions[0].points:
        assert point.margins is None
    assert {gain.verdict for gain in content.gains[0].areas} == {"not stated"}


def test_a_typed_0_is_a_statement_in_the_certificates_budget() -> None:
    stated = dataclasses.replace(BEFORE, u_pressure=Quantity("0 %", 0.0), u_lift=None)
    session = samples.result(stated, 1)
    answer = text(papers.flow_certificate(samples.certificate([], sessions=(session,))))
    assert "Test pressure B 0 % known – 0 cfm" in answer
    assert "Lift setting B not stated – – –" in answer


def without_later(plain: Any) -> Any:
    """A snapshot as certificates had it before gains were judged on the effective area."""
    added = {
        *("flow_as_tested", "flow_isentropic", "effective_area", "choked", "margins"),
        *("is_stated", "is_as_tested", "test_pressure", "mean_flow_uncertainty"),
        *("mean_area", "mean_area_uncertainty", "areas", "mean", "conclusion", "reasons"),
        "flow_at",
    }
    if isinstance(plain, dict):
        return {key: without_later(value) for key, value in plain.items() if key not in added}
    return [without_later(item) for item in plain] if isinstance(plain, list) else plain


def test_a_certificate_from_before_areas_were_compared_stays_readable_and_keeps_its_code() -> None:
    plain = without_later(to_plain(CERTIFICATE))
    old = from_plain(documents.FlowCertificate, plain)
    assert to_plain(old) == plain
    assert old.verification_code != CERTIFICATE.verification_code
    answer = text(papers.flow_certificate(old))
    assert "Mean gain over the lifts both tests cover" in answer
    assert "Highest flow, cfm" in answer
    assert "Conclusion" not in answer
    assert recompute(old, files_of(old)).agrees


def files_of(certificate: documents.FlowCertificate) -> dict[str, str]:
    return {session.file_name: session.file_text for session in certificate.sessions}


def test_every_figure_a_certificate_prints_is_worked_out_again_from_its_files() -> None:
    gains = tuple(
        dataclasses.replace(gain, before_file="session-1.toml", after_file="session-2.toml")
        for gain in CERTIFICATE.gains
    )
    sessions = (samples.result(BEFORE, 1), samples.result(AFTER, 2))
    total = dataclasses.replace(CERTIFICATE, sessions=sessions, gains=gains)
    assert recompute(total, files_of(total)).agrees
    assert gains[0].mean is not None
    better = dataclasses.replace(gains[0].mean, expanded_uncertainty=0.001)
    forged = dataclasses.replace(total, gains=(dataclasses.replace(gains[0], mean=better),))
    (differing,) = recompute(forged, files_of(total)).differing
    assert "expanded_uncertainty: states 0.001" in differing


def test_where_nothing_is_stated_of_the_set_up_it_says_so() -> None:
    bare = papers.flow_certificate(samples.certificate([samples.session(whole=False)]))
    answer = text(bare)
    assert "Entry radius, stub pipe and bore adapter" in answer
    assert "where nothing is stated they were not recorded" in answer


def test_a_code_to_scan_is_there_only_with_an_address_to_lead_to() -> None:
    without, with_code = (
        drawn_in_the_corner(papers.flow_certificate(content))
        for content in (dataclasses.replace(CERTIFICATE, url=""), CERTIFICATE)
    )
    assert with_code > without


def drawn_in_the_corner(content: bytes) -> int:
    """Drawings at the top right of the first page, where the code stands."""
    page = pymupdf.open(stream=content, filetype="pdf")[0]
    corner = pymupdf.Rect(0.75 * page.rect.width, 0.09 * page.rect.height, page.rect.width, 150)
    return sum(corner.contains(drawing["rect"]) for drawing in page.get_drawings())


def test_the_end_is_marked_once_and_only_the_annex_follows() -> None:
    words = text()
    assert words.count("End of certificate") == 1
    results, annex = words.split("End of certificate")
    assert f"Annex to certificate {CERTIFICATE.title}" in annex
    for method in ("Method", "uncertainty budget at the highest flow", "JCGM 100"):
        assert method in annex
        assert method not in results


def test_the_first_page_alone_tells_the_story() -> None:
    with pymupdf.open(stream=PDF, filetype="pdf") as pdf:
        first = " ".join(pdf[0].get_text().split())
    for part in (
        "Conclusion", "Results in brief", "Tested at", "Gain in effective area, lift by lift",
        f"Authorized by {CERTIFICATE.issued_by}", CERTIFICATE.verification_code,
    ):  # fmt: skip
        assert part in first, part


def attached(content: bytes) -> dict[str, bytes]:
    with pikepdf.open(io.BytesIO(content)) as pdf:
        return {name: spec.get_file().read_bytes() for name, spec in pdf.attachments.items()}


def test_the_session_files_inside_give_the_certificates_figures_again() -> None:
    files = attached(PDF)
    names = {session.file_name for session in CERTIFICATE.sessions}
    tables = {name.replace(".toml", ".csv") for name in names}
    assert set(files) == names | tables | {f"{CERTIFICATE.number}.json"}
    words = text()
    for session in CERTIFICATE.sessions:
        document = testfile.loads(files[session.file_name])
        again = reduce(document.flow_test())
        assert again.mean_flow == session.mean_flow
        assert [point.flow for point in again.points] == [point.flow for point in session.points]
        for point, printed in zip(again.points, session.points, strict=True):
            assert CERTIFICATE.display.units.number(point.flow, "flow") in words
            value, _ = matched(point.cd_curtain, present(printed.margin("cd_curtain")))
            assert value in words


def test_a_reading_left_out_is_in_the_attached_file_with_its_reason() -> None:
    document = testfile.loads(attached(PDF)["session-2.toml"])
    assert [run.reason for run in document.excluded] == ["tape came loose"]


def test_without_an_address_number_and_code_stand_in_plain_print() -> None:
    answer = text(papers.flow_certificate(dataclasses.replace(CERTIFICATE, url="", verify_at="")))
    assert f"Verification code {CERTIFICATE.verification_code}" not in answer
    code = dataclasses.replace(CERTIFICATE, url="", verify_at="").verification_code
    assert f"Verification code {code}" in answer
    assert "with the shop that issued it" in answer


def test_the_code_holds_for_the_address_that_carries_it() -> None:
    moved = dataclasses.replace(CERTIFICATE, url="https://shop.test/verify/x?code=1")
    assert moved.verification_code == CERTIFICATE.verification_code


def test_an_own_check_is_said_to_be_one() -> None:
    own = dataclasses.replace(CERTIFICATE, checked_by="Odile Marsh")
    assert "Checked by Odile Marsh, 2026-03-05, who drafted it too" in text(
        papers.flow_certificate(own)
    )


def test_a_draft_is_marked_on_every_page_and_has_neither_code_nor_authority() -> None:
    draft = dataclasses.replace(
        CERTIFICATE, number="not issued", url="", verify_at="", issued_by="", checked_by=""
    )
    content = papers.flow_certificate(draft, draft=True)
    answer = pymupdf.open(stream=content, filetype="pdf")
    assert all("Draft, not issued" in page.get_text() for page in answer)
    for words in ("Verification code", "Authorized by", "Checked by"):
        assert words not in text(content)


def test_the_document_says_what_it_is() -> None:
    with pikepdf.open(io.BytesIO(PDF)) as pdf:
        assert "FC-2026-0007 revision 2" in str(pdf.docinfo.Title)
        assert str(pdf.docinfo.Author) == "Halvane Cylinder Heads"
        assert "Trewarrick Gannet Four, head J-2026-0041-A" in str(pdf.docinfo.Subject)
        words = str(pdf.docinfo.Keywords).split(", ")
        assert {"FC-2026-0007", "J-2026-0041", "TM-4417-C", "G 3186"} <= set(words)
        # ISO 32000-1, 7.9.4: the date of issue, in UTC.
        assert str(pdf.docinfo.CreationDate) == "D:20260305233000Z"
        assert str(pdf.Root.Lang).startswith("en")


def test_a_calibration_by_points_and_sizes_with_their_uncertainty_are_worked_out_again() -> None:
    """Points of 0 to 2 % above the reading; the verification rests on the attached file alone."""
    readings = tuple(map(Decimal, ("10", "80", "160", "240", "320")))
    flows = tuple(map(Decimal, ("10.1", "80.9", "162.2", "243.8", "325.6")))
    document = dataclasses.replace(
        BEFORE,
        calibration_factor=Decimal(1),
        calibration_model="quadratic",
        calibration_reading_unit="cfm",
        calibration_readings=readings,
        calibration_flow_unit="cfm",
        calibration_flows=flows,
        calibration_uncertainties=(Decimal("1.0"),) * 5,
        u_head_diameter=Quantity("0.02 mm", 2e-5),
        u_port_area=Quantity("10 mm2", 1e-5),
    )
    item = samples.result(document)
    stated = dataclasses.replace(CERTIFICATE, sessions=(item,), gains=())
    assert recompute(stated, files_of(stated)).agrees
    assert dict(item.conditions)["Valve head"].endswith("(u = 0.02 mm)")
    answer = text(papers.flow_certificate(stated))
    assert "Calibration, fit of its points" in answer
    bare = {
        item.file_name: "\n".join(
            line for line in item.file_text.splitlines() if not line.startswith("calibration_")
        )
    }
    assert not recompute(stated, bare).agrees


def test_it_leads_with_the_flow_its_gains_are_of_and_prints_equal_flows_once() -> None:
    leads = dataclasses.replace(CERTIFICATE, is_in_standard_air=True)
    session = CERTIFICATE.sessions[0]
    best = max(session.points, key=lambda point: present(point.value("flow_standard")))
    highest, margin = stated(
        CERTIFICATE.display.units,
        best.value("flow_standard"),
        best.margin("flow_standard"),
        "flow",
    )
    answer = text(papers.flow_certificate(leads))
    assert f"{session.title} {session.test_pressure} {highest} {margin}" in answer
    assert "Highest flow as tested" not in answer
    assert "isentropic" in answer
    # At the reference pressure itself, the three flows of room air are one.
    alike = dataclasses.replace(
        session,
        points=tuple(
            dataclasses.replace(
                point, flow=present(point.flow_as_tested), flow_isentropic=point.flow_as_tested
            )
            for point in session.points
        ),
    )
    once = dataclasses.replace(leads, sessions=(alike,), gains=())
    titles = text(papers.flow_certificate(once)).partition("Test conditions")[2]
    assert "standard air, cfm" in titles
    assert "isentropic, cfm" not in titles
