"""A form that is sent twice is saved once, and the repeat is answered with the first result."""

from __future__ import annotations

import io
import re
from collections import defaultdict
from datetime import timedelta
from pathlib import Path

import pytest
from flask import Flask
from sqlalchemy import func, select
from sqlalchemy.orm import Session

import shopflow
from shopflow.files import FileStore
from shopflow.models import ApiToken, Customer, IdempotencyKey, JobFile, Role, User
from shopflow.services import idempotency
from shopflow.services.accounts import users
from shopflow.web.rights import BY_TOKEN, OPEN
from tests import factories, photos
from tests.security.one_of_everything import create_one_of_everything, rules, takes
from tests.web.client import Client, Page

OTHER_STATES = {
    *("comparisons.confirm", "fixtures.restore"),
    *("collections.hand_over", "decisions.decide", "drafts.issue", "hand_offs.take_back"),
    *("imports.confirm", "invoices.issue", "operations.move", "operations.reopen"),
    *(
        "releases.give",
        "sessions.give_up",
        "sessions.include",
        "time_tracking.pause",
        "time_tracking.take_up",
    ),
    *("measurements.restore", "outbox.arrived", "outbox.send_again", "api_tokens.revoke"),
    *("test_drafts.discard", "test_drafts.restore", "questions.answer", "withdrawals.restore"),
    *("cams.restore", "sheets.save", "castings.use_spare", "castings.withdraw_offer"),
    *("limits.copy", "plans.copy", "practice.discard", "first_days.show"),
    *("bench_mode.begin_spare", "bench_mode.end", "export.open_data"),
    *("engine_ranges.remove_of_job", "engine_ranges.remove_of_shop"),
    *("part_needs.fit", "part_needs.follow", "part_needs.own_is_here", "part_needs.put_back"),
    *("part_needs.wait", "purchase_orders.cancel_rest", "purchase_orders.draft"),
    *("webhooks.repeat", "webhooks.skip", "webhooks.switch_on"),
    "reminders.add_usual",
}
"""Endpoints whose form shows in states that one of everything is not in: their templates are held
by `test_every_form_in_a_template_takes_its_key_from_the_macro`."""

TEMPLATES = Path(shopflow.__file__).parent / "web" / "templates"
KEYLESS = (["account.sign_out"], ["account.sign_in_again"], ["export.open_data"])
"""Forms that save nothing twice: they end a login session or begin one, or download a file."""
RESENT = {"choose.html", "unavailable.html", "sent_before.html", "forms.html"}
"""Templates that send a form again with the key it had, or hold the macros themselves."""

SENT_BY_SCRIPT = {"seat_profiles.preview", "sessions.worked_out", "sheets.cells"}
"""Endpoints that pages call by themselves; a test being taken has a key of its own."""


def posted(page: Page) -> dict[str, str]:
    """The fields of a page's form, as a browser sends them."""
    return dict(page.form().form_values())


def count(db: Session, noun: type) -> int:
    return db.scalar(select(func.count()).select_from(noun)) or 0


@pytest.fixture
def store(web_app: Flask) -> FileStore:
    """The app's folder of files."""
    return FileStore(web_app.config["SHOPFLOW"].files)


def test_a_repeat_leads_to_what_the_first_created_and_says_so(client: Client, db: Session):
    form = posted(client.page("/customers/new")) | {"name": "Orla Finch"}
    first = client.post("/customers/new", data=form)
    client.page("/customers")
    repeats = [client.post("/customers/new", data=form) for _ in range(5)]
    assert {answer.location for answer in repeats} == {first.location}
    assert "You sent this form twice. It was saved once." in client.get("/customers").text
    assert [row.name for row in db.scalars(select(Customer))] == ["Orla Finch"]


def test_a_form_that_failed_may_be_sent_again_with_its_key(client: Client, db: Session):
    page = client.submit("/customers/new", {"name": ""}, status=422)
    key = posted(page)["idempotency_key"]
    page = client.submit(page, {"name": "Orla Finch"})
    assert page.heading == "Orla Finch"
    assert count(db, Customer) == count(db, IdempotencyKey) == 1
    assert len(key) >= 22  # 128 bits in base 64


def test_each_page_has_a_key_of_its_own(client: Client):
    assert (
        posted(client.page("/customers/new"))["idempotency_key"]
        != posted(client.page("/customers/new"))["idempotency_key"]
    )


def test_other_content_under_a_used_key_is_kept_and_asked_about(client: Client, db: Session):
    form = posted(client.page("/customers/new"))
    first = client.post("/customers/new", data={**form, "name": "Orla Finch"})
    answer = client.post("/customers/new", data={**form, "name": "Sam Tillery"})
    page = Page(answer)
    assert (answer.status_code, page.heading) == (409, "This form was sent before")
    assert first.location in page.links.values()
    assert count(db, Customer) == 1
    assert client.press(page, "Save as new").heading == "Sam Tillery"
    db.expire_all()
    assert count(db, Customer) == 2


def test_a_password_is_not_written_into_the_page_that_asks(client: Client):
    form = posted(client.page("/people/new"))
    form |= {"login": "nila", "name": "Nila", "role": "counter"}
    secret = "a long enough word"
    first = client.post("/people/new", data={**form, "password": secret, "again": secret})
    assert first.status_code == 302, first.text
    answer = client.post("/people/new", data={**form, "password": secret + "!", "again": secret})
    assert answer.status_code == 409
    assert secret not in answer.text


def test_the_key_of_another_person_is_no_repeat(client: Client, signed_in, db: Session):
    key = posted(client.page("/customers/new"))["idempotency_key"]
    for someone, name in ((client, "Orla Finch"), (signed_in(Role.COUNTER), "Sam Tillery")):
        form = posted(someone.page("/customers/new")) | {"idempotency_key": key, "name": name}
        assert someone.post("/customers/new", data=form).status_code == 302
    assert count(db, Customer) == 2


def test_a_secret_shown_once_is_made_once(client: Client, db: Session):
    form = posted(client.page("/api-tokens/new")) | {"name": "ledger", "days": "30"}
    assert client.post("/api-tokens/new", data=form).status_code == 200
    assert client.post("/api-tokens/new", data=form).location == "/api-tokens"
    assert count(db, ApiToken) == 1


def test_a_form_with_files_is_saved_once(client: Client, db: Session):
    job = factories.create_visit(db).job
    address = f"/jobs/{job.number}/files/add"
    form = posted(client.page(address))

    def sent() -> dict[str, object]:
        return {**form, "files": (io.BytesIO(photos.jpeg(40, 30)), "a.jpg")}

    first = client.post(address, data=sent())
    assert client.post(address, data=sent()).location == first.location
    assert count(db, JobFile) == 1


def test_old_keys_are_pruned(client: Client, db: Session):
    form = posted(client.page("/customers/new")) | {"name": "Orla Finch"}
    client.post("/customers/new", data=form)
    (row,) = db.scalars(select(IdempotencyKey))
    row.at -= idempotency.KEPT + timedelta(minutes=1)
    db.flush()
    form = posted(client.page("/customers/new")) | {"name": "Sam Tillery"}
    client.post("/customers/new", data=form)
    db.expire_all()
    (left,) = db.scalars(select(IdempotencyKey))
    assert left.address == f"/customers/{db.scalar(select(func.max(Customer.id)))}"


def forms_by_endpoint(app: Flask, client: Client, pages: list[str]) -> dict[str, list[set[str]]]:
    """The names of the fields of every form that posts, by the endpoint it posts to."""
    adapter = app.url_map.bind("localhost")
    forms: dict[str, list[set[str]]] = defaultdict(list)
    for address in pages:
        answer = client.get(address)
        if answer.status_code != 200 or answer.mimetype != "text/html":
            continue
        page = Page(answer)
        for form in page.tree.findall(".//form"):
            if form.method == "POST":
                action = (form.get("action") or page.path).split("?")[0].split("#")[0]
                endpoint = adapter.match(action, "POST")[0]
                guarded = {name for name, value in form.form_values() if value}
                forms[endpoint].append(guarded)
    return forms


def test_every_form_that_creates_carries_a_one_time_key(
    web_app: Flask, client: Client, db: Session, store: FileStore
):
    """A new endpoint fails here until its form is on a page, with the key of `hidden`."""
    everything = create_one_of_everything(db, store)
    db.commit()
    every = list(rules(web_app))
    pages = [everything.address(rule) for rule in every if takes(rule, "GET")]
    pages += [f"/flow-tests/{everything.value_of('sessions.session', 'session_id')}", "/me"]
    forms = forms_by_endpoint(web_app, client, pages)
    posting = {rule.endpoint for rule in every if takes(rule, "POST")}
    unseen = posting - forms.keys() - OPEN - BY_TOKEN - OTHER_STATES - SENT_BY_SCRIPT
    assert not unseen, "no page has a form for these: show it, or name them in OTHER_STATES"
    for endpoint in sorted(posting - OPEN - {"account.sign_out", "account.sign_in_again"}):
        for names in forms.get(endpoint, []):
            edits = {"version", "opened"} <= names
            assert edits or "idempotency_key" in names, f"{endpoint}: {sorted(names)}"


@pytest.mark.parametrize("path", sorted(TEMPLATES.rglob("*.html")), ids=lambda path: path.name)
def test_every_form_in_a_template_takes_its_key_from_the_macro(path: Path):
    for form in re.findall(r"<form[^>]*post.*?</form>", path.read_text(), re.DOTALL):
        action = re.findall(r"url_for\([\"']([\w.]+)", form.partition(">")[0])
        assert (
            "forms.hidden(" in form
            or "one_time_key(" in form
            or action in KEYLESS
            or (path.name in RESENT)
        ), form


def test_the_person_is_the_one_signed_in(client: Client, db: Session):
    form = posted(client.page("/customers/new")) | {"name": "Orla Finch"}
    client.post("/customers/new", data=form)
    (row,) = db.scalars(select(IdempotencyKey))
    owner = next(user for user in users.list_all(db) if user.role is Role.OWNER)
    assert db.get(User, row.person_id) is owner
