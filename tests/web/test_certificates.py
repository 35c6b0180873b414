"""Certificates, hand-off notes and papers in the browser."""

from __future__ import annotations

import hashlib

import pymupdf
import pytest

from shopflow import signing, testfile
from shopflow.models import Certificate, Role
from shopflow.services.bench import sessions
from tests import factories
from tests.cli.sessions import AFTER_US, INTAKE_US
from tests.factories import BY, create_visit
from tests.optional import present


@pytest.fixture
def visit(db):
    """A head with two sessions."""
    visit = create_visit(db)
    for text in (INTAKE_US, AFTER_US):
        sessions.store(db, BY, visit, testfile.loads(text))
    return visit


def text_of(response) -> str:
    """The words of a PDF."""
    assert response.mimetype == "application/pdf"
    with pymupdf.open(stream=response.data) as pdf:
        return "\n".join(page.get_text() for page in pdf)


HOW = "Read over against the bench sheets; nobody else was in the shop."


def issued(client, visit, **values):
    """The page of a certificate just drafted, checked and issued by its owner."""
    page = client.submit(f"/heads/{visit.tag}/certify", values)
    return check_and_issue(client, page)


def check_and_issue(client, page):
    """The page of the certificate a draft's page leads to."""
    page = client.submit(page, {"statement": HOW}, action=f"{page.path}/check")
    return client.press(page, "Issue certificate")


def test_a_certificate_is_issued_and_its_pdf_never_changes(client, db, visit):
    page = issued(client, visit)
    assert page.heading == "Certificate FC-2026-0001"
    assert HOW in page.text
    (certificate,) = db.query(Certificate)
    href = page.links["Open PDF"]
    first, second = client.get(href), client.get(href)
    assert first.data == second.data
    assert hashlib.sha256(first.data).hexdigest() == certificate.sha256
    assert certificate.sha256 in page.text
    words = " ".join(text_of(first).split())
    for expected in ("FC-2026-0001", visit.job.customer.name, HOW, certificate.code):
        assert expected in words


def test_a_draft_is_looked_over_changed_and_checked_by_a_second_person(
    client, signed_in, visit, db
):
    values = {"departures": "Bore adapter 2 mm over.", "opinions": "The bowl is done."}
    machinist = signed_in(Role.MACHINIST)
    page = machinist.submit(f"/heads/{visit.tag}/certify", values)
    assert page.heading.endswith(", draft")
    assert "not checked yet" in page.text
    assert "Issue certificate" not in page.text
    words = " ".join(text_of(client.get(page.links["Preview PDF"])).split())
    assert "Draft, not issued" in words
    assert "Verification code" not in words
    assert "Bore adapter 2 mm over. Excluded readings" in words
    assert page.path in client.page(f"/heads/{visit.tag}").links.values()
    # The second person need not say how.
    checked = client.submit(page.path, {}, action=f"{page.path}/check")
    assert checked.heading.endswith(", checked")
    changed = machinist.submit(f"{page.path}/change", {"opinions": ""})
    assert changed.heading.endswith(", draft")
    done = client.submit(page.path, {}, action=f"{page.path}/check")
    new_page = client.press(done, "Issue certificate")
    assert new_page.heading == "Certificate FC-2026-0001"
    later = client.page(page.path)
    assert later.links["Issued as FC-2026-0001"] == "/certificates/FC-2026-0001/1"
    assert "Discard draft" not in later.text


def test_who_wrote_it_must_say_how_it_was_checked(client, visit):
    page = client.submit(f"/heads/{visit.tag}/certify", {})
    refused = client.submit(page, {"statement": ""}, action=f"{page.path}/check", status=422)
    assert "you wrote this draft yourself" in refused.fault("statement").lower()


def test_a_reading_left_out_after_the_check_stops_the_issue(client, db, visit):
    every = [str(row.id) for row in visit.sessions]
    page = client.submit(f"/heads/{visit.tag}/certify", {"sessions": every})
    page = client.submit(page, {"statement": HOW}, action=f"{page.path}/check")
    sessions.exclude(db, BY, visit.sessions[0].lifts[0].readings[0], "clay fell off")
    refused = client.press(page, "Issue certificate", status=422)
    assert "changed since it was checked" in refused.alerts
    assert "check it again" in refused.text


def test_a_draft_is_thrown_away(client, db, visit):
    page = client.submit(f"/heads/{visit.tag}/certify", {})
    client.press(page, "Discard draft")
    client.page(page.path, status=404)


def test_only_the_owner_issues(signed_in, visit):
    machinist = signed_in(Role.MACHINIST)
    page = machinist.submit(f"/heads/{visit.tag}/certify", {})
    page = machinist.submit(page, {"statement": HOW}, action=f"{page.path}/check")
    assert "Issue certificate" not in page.text
    token = page.form().fields["csrf_token"]
    assert machinist.post(f"{page.path}/issue", data={"csrf_token": token}).status_code == 403


TIGHT = INTAKE_US.replace("1.732 in", "0.9 in").replace("1.530 in", "0.8 in")


def test_doubts_are_answered_on_the_draft_page_and_printed(client, db):
    visit = create_visit(db)
    sessions.store(db, BY, visit, testfile.loads(TIGHT))
    page = client.submit(f"/heads/{visit.tag}/certify", {})
    assert page.text.count("the coefficient on the least valve area is above 1") == 1
    (name,) = page.tree.xpath("//textarea[starts-with(@name, 'answer-')]/@name")
    refused = client.submit(page, {"statement": HOW}, action=f"{page.path}/check", status=422)
    assert "Answer this in words" in refused.fault(name)
    values = {"statement": HOW, name: "A guessed valve size."}
    page = client.submit(refused, values, action=f"{page.path.removesuffix('/check')}/check")
    done = client.press(page, "Issue certificate")
    words = " ".join(text_of(client.get(done.links["Open PDF"])).split())
    assert "What explains it? Answer: A guessed valve size." in words


def test_a_head_without_numbers_is_told_on_the_draft_page(client, visit):
    visit.head.casting_number = visit.head.serial = ""
    page = client.submit(f"/heads/{visit.tag}/certify", {})
    assert "This head has no identification." in page.text
    refused = client.submit(page, {"statement": HOW}, action=f"{page.path}/check", status=422)
    assert "nothing tells head" in refused.alerts.lower()
    page = client.submit(f"{page.path}/change", {"identification": "Two green dots"})
    assert "This head has no identification." not in page.text
    row = check_and_issue(client, page)
    assert "Also known by Two green dots" in " ".join(
        text_of(client.get(row.links["Open PDF"])).split()
    )


def test_a_hand_off_that_cannot_be_signed_says_why_and_a_bare_one_is_not_printed(client, db, visit):
    address = f"/heads/{visit.tag}/hand-off"
    page = client.submit(address, {"addressee": "Tarn Motors", **BLANK})
    assert "Open sheet" not in page.links
    bare = client.get(f"/papers/hand-off/{visit.tag}.pdf")
    assert bare.status_code == 409
    assert "no values yet" in bare.text
    valve = {"intake-base_seat_load": "90 lbf", "intake-seat_angle": "39 deg"}
    page = client.submit(address, valve)
    assert "Not ready to sign." in page.text
    assert "shallower than 45 deg, and its allowance is blank" in page.text
    page = client.submit(address, {"intake-allowance_derived": "y"})
    assert "Not ready to sign." not in page.text
    assert "derived: 90 lbf × (cos 39" in page.text


BLANK = {
    f"{side}-{name}": ""
    for side in ("intake", "exhaust")
    for name in ("valve_head_diameter", "valve_lift", "seat_angle", "port_pressure")
}
TIBETAN = "བོད"


def test_letters_that_would_print_wrong_are_told_before_issue_wherever_they_stand(
    client, db, visit
):
    visit.job.customer.address = f"{TIBETAN} 1"
    visit.condition = f"{TIBETAN} 2"
    visit.job.fuel = f"{TIBETAN} 3"
    sessions.store(db, BY, visit, testfile.loads(AFTER_US.replace("seat cut", f"{TIBETAN} 4")))
    every = [str(row.id) for row in visit.sessions]
    values = {"sessions": every, "opinions": f"{TIBETAN} 5"}
    page = client.submit(f"/heads/{visit.tag}/certify", values)
    assert "Some letters will print wrong." in page.text
    for number in range(1, 6):
        assert f"{TIBETAN} {number}" in page.text
    note = client.submit(
        f"/heads/{visit.tag}/hand-off", {"notes": f"{TIBETAN} 6", "intake-base_seat_load": "90 lbf"}
    )
    assert f"“{TIBETAN} 6”: བོད printed as empty boxes" in note.text
    job = visit.job.number
    for path in (f"/jobs/{job}/quote", f"/jobs/{job}/invoice"):
        assert f"“{TIBETAN} 1”" in client.page(path).text


def test_a_certificate_needs_a_session(client, db, visit):
    page = client.page(f"/heads/{visit.tag}/certify")
    form = page.form()
    data = {"csrf_token": form.fields["csrf_token"], "baseline": "the first", "opinions": "Good."}
    response = client.post(f"/heads/{visit.tag}/certify", data=data)
    assert response.status_code == 422
    assert "hoose at least one flow test" in response.text
    assert "Good." in response.text
    assert "cannot be certified" in client.page(f"/heads/{create_visit(db).tag}/certify").text


def test_a_correction_is_a_new_revision_that_says_why(client, visit):
    issued(client, visit)
    address = "/certificates/FC-2026-0001/1/correct"
    refused = client.submit(address, {"reason": ""}, status=422)
    assert refused.fault("reason") == "Required: enter a value"
    page = client.submit(address, {"reason": "Valve diameter mistyped."})
    assert page.heading == "Correction of FC-2026-0001, draft"
    assert client.page(f"{page.path}/change").value("reason") == "Valve diameter mistyped."
    page = check_and_issue(client, page)
    assert page.heading == "Certificate FC-2026-0001 revision 2"
    old = client.page("/certificates/FC-2026-0001/1")
    assert "Replaced by FC-2026-0001 revision 2: Valve diameter mistyped." in old.text
    words = text_of(client.get("/papers/certificate/FC-2026-0001/2.pdf"))
    assert "replaces revision 1" in words
    assert "Valve diameter mistyped." in words


def test_one_is_withdrawn_with_its_reason(client, visit):
    issued(client, visit)
    address = "/certificates/FC-2026-0001/1/withdraw"
    assert (
        client.submit(address, {"reason": ""}, status=422).fault("reason")
        == "Required: enter a value"
    )
    page = client.submit(address, {"reason": "Another head was on the bench."})
    assert "by Nila Owner: Another head was on the bench." in page.text
    assert "Withdraw certificate" not in page.links
    again = client.submit(address, {"reason": "Again."}, status=422)
    assert "withdrawn already" in again.alerts


def test_the_owner_makes_the_key_and_certificates_are_signed_from_then_on(
    client, signed_in, folder, visit
):
    page = client.press("/shop", "Create signing key")
    assert "signed from now on" in " ".join(page.notices)
    assert "Create signing key" not in page.text
    token = page.form().fields["csrf_token"]
    again = client.post("/shop/signing-key", data={"csrf_token": token})
    assert again.status_code == 409
    assert "has a signing key already" in again.text
    href = issued(client, visit).links["Open PDF"]
    value = present(signing.check(folder, client.get(href).data))
    assert value.sound, value.words
    shut = signed_in(Role.COUNTER)
    token = shut.page("/").tree.xpath("//input[@name='csrf_token']/@value")[0]
    assert shut.post("/shop/signing-key", data={"csrf_token": token}).status_code == 403


def test_a_failed_signature_is_said_and_nothing_is_issued(client, db, folder, visit):
    (folder / signing.KEY_FILE).write_text("not a key")
    page = client.submit(f"/heads/{visit.tag}/certify", {})
    page = client.submit(page, {"statement": HOW}, action=f"{page.path}/check")
    refused = client.press(page, "Issue certificate", status=422)
    assert "The signing key (signing.pem) cannot be read" in refused.alerts
    assert db.query(Certificate).count() == 0
    (folder / signing.KEY_FILE).unlink()
    # The number that was refused was not used up.
    assert client.press(refused, "Issue certificate").heading == "Certificate FC-2026-0001"


VALVE = {
    "intake-base_seat_load": "90 lbf",
    "intake-port_pressure": "20 psi",
    "intake-valve_head_diameter": "44 mm",
    "intake-seat_angle_allowance": "10 lbf",
    "intake-spring_rate": "272.727 lbf/in",
    "intake-installed_height": "1.650 in",
    "intake-coil_bind_height": "1.050 in",
    "intake-valve_lift": "0.550 in",
}


def test_a_hand_off_note_is_written_signed_and_printed(client, visit):
    address = f"/heads/{visit.tag}/hand-off"
    figure = {"figures-0-name": "Chamber volume", "figures-0-value": "47.9 cm3"}
    page = client.submit(address, {"addressee": "Marsh Engines", **VALVE, **figure, "save": "1"})
    # 20 psi x pi/4 x (44 mm)^2 = 209.674 N = 47.14 lbf, by hand; 0.05 in of room by subtraction.
    for words in ("47.1 lbf", "147.1 lbf", "0.050 in"):
        assert words in page.text
    page = client.press(page, "Sign note")
    assert "Signed by" in page.text
    words = text_of(client.get(f"/papers/hand-off/{visit.tag}.pdf"))
    for expected in ("Marsh Engines", "47.1 lbf", "147.1 lbf", "297.1 lbf", "Chamber volume"):
        assert expected in words
    page = client.press(page, "Withdraw signature")
    assert page.value("intake-spring_rate") == "272.727 lbf/in"


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("intake-base_seat_load", "90 kg", "unit of mass, not of force"),
        ("exhaust-spring_rate", "0 N/mm", "must be more than"),
        ("intake-coil_bind_height", "1.7 in", "binds before it is installed"),
        ("figures-0-value", "", "Required: enter a value"),
    ],
)
def test_faults_of_a_hand_off_note_are_shown_at_their_fields(client, visit, field, typed, words):
    values = {**VALVE, "figures-0-name": "Torque", "figures-0-value": "as given", field: typed}
    page = client.submit(f"/heads/{visit.tag}/hand-off", {**values, "save": "1"}, status=422)
    assert words in page.fault(field)
    assert page.value(field) == typed
    assert page.value("intake-valve_lift") == "0.550 in"
    assert visit.hand_off is None


def test_a_work_order_has_a_page_for_the_head(client, visit):
    words = text_of(client.get(f"/papers/work-order/{visit.job.number}.pdf"))
    for expected in (visit.tag, visit.job.customer.name, "Asked for", "Work plan", "Page 1 of"):
        assert expected in words


@pytest.mark.parametrize(
    "address",
    [
        "/papers/work-order/none.pdf",
        "/papers/hand-off/none.pdf",
        "/papers/certificate/none/1.pdf",
        "/certificates/FC-2026-0001/7",
        "/certificates/FC-2026-0001/99999999999999999999",
    ],
)
def test_papers_that_are_not_there_are_said_so(client, visit, address):
    client.page(address, status=404)


def test_a_head_without_a_note_has_no_sheet(client, visit):
    client.page(f"/papers/hand-off/{visit.tag}.pdf", status=404)


def test_the_engine_s_figures_are_asked_for_and_what_lacks_is_named(client, visit):
    values = {"engine-gasket_bore": "87.5 mm", "engine-fuel_to_air": "0.08"}
    page = client.submit(f"/heads/{visit.tag}/hand-off", {**VALVE, **values, "save": "1"})
    assert page.value("engine-gasket_bore") == "87.5 mm"
    assert "missing: a measured chamber volume, gasket thickness" in page.text
    assert "Not entered" in page.text
    words = " ".join(text_of(client.get(f"/papers/hand-off/{visit.tag}.pdf")).split())
    # The assembler is told what there is.
    assert "Compression ratio" not in words
    faulty = {"engine-gas_flow": "2 mm", "save": "1"}
    page = client.submit(f"/heads/{visit.tag}/hand-off", faulty, action="", status=422)
    assert "not of mass flow" in page.fault("engine-gas_flow")


def test_an_empty_note_is_not_signed(client, visit):
    address = f"/heads/{visit.tag}/hand-off"
    blank = dict.fromkeys(VALVE, "") | {"exhaust-valve_head_diameter": "", "addressee": "Marsh"}
    page = client.submit(address, {**blank, "save": "1"})
    assert "Sign note" not in page.text
    token = page.form().fields["csrf_token"]
    refused = client.post(f"{address}/sign", data={"csrf_token": token})
    assert refused.status_code == 409
    assert "note has no values yet" in refused.text
    assert visit.hand_off.signed_at is None


def test_a_new_note_starts_from_the_job_and_the_last_tests(client, db):
    visit = create_visit(db, boost="18 psi", induction="turbocharged", intake_lift="0.400 in")
    sessions.store(db, BY, visit, testfile.loads(INTAKE_US))
    page = client.page(f"/heads/{visit.tag}/hand-off")
    assert page.value("intake-port_pressure") == "18 psi"
    assert page.value("intake-valve_lift") == "0.400 in"
    assert page.value("intake-valve_head_diameter") == "1.732 in"


def test_a_certificate_is_found_by_its_number(client, visit):
    issued(client, visit)
    links = client.page("/search?q=FC-2026-0001").links
    assert links["FC-2026-0001"] == "/certificates/FC-2026-0001/1"


def test_what_nobody_stated_is_not_printed_as_nothing(client, db):
    visit = create_visit(db)
    text = (
        INTAKE_US[: INTAKE_US.index("[uncertainty]")] + INTAKE_US[INTAKE_US.index("[readings]") :]
    )
    sessions.store(db, BY, visit, testfile.loads(text))
    issued(client, visit)
    words = text_of(client.get("/papers/certificate/FC-2026-0001/1.pdf"))
    assert "its uncertainty not stated" in " ".join(words.split())
    # One run at one lift: neither repeats nor anything stated say what it is worth.
    assert "–" in words.splitlines()


def test_the_draft_offers_the_cams_there_are(client, db, visit):
    address = f"/heads/{visit.tag}/certify"
    assert "Show through the cam" not in client.page(address).text
    cam = factories.create_cam(db, visit.job)
    page = client.page(address)
    assert page.value("cam_id") == ""
    page = client.submit(page, {"cam_id": str(cam.id)})
    assert "Through the cam" in page.text
    page = client.page(page.links["Change"])
    assert page.value("cam_id") == str(cam.id)
    page = client.submit(page, {"cam_id": ""})
    assert "Through the cam" not in page.text
