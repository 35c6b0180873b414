"""Navigation by role, and the work that a user sees as their own."""

from __future__ import annotations

import pytest

from shopflow.models import Role
from shopflow.services.accounts import users
from shopflow.services.actor import Actor
from shopflow.services.planning import next_act
from shopflow.services.planning.next_act import Verb
from shopflow.services.routing import operations
from shopflow.web import acts, navigation
from shopflow.web.rights import RIGHTS
from tests import factories
from tests.factories import BY, create_job, create_operation, create_person


@pytest.mark.parametrize("role", Role)
def test_the_bar_leads_each_role_only_to_pages_open_to_it(role):
    assert all(role in RIGHTS[endpoint] for endpoint in navigation.BAR[role])


def test_the_menu_has_every_page_of_the_bars_and_a_label_for_each():
    menu = {endpoint for _, endpoints in navigation.MENU for endpoint in endpoints}
    assert {endpoint for bar in navigation.BAR.values() for endpoint in bar} <= menu
    assert menu == set(navigation.LABELS)


@pytest.mark.parametrize("verb", Verb)
def test_each_act_is_open_to_the_roles_of_its_page(verb):
    assert next_act.ROLES[verb] <= RIGHTS[acts.ENDPOINTS[verb]]


def test_reports_outbox_and_capacity_are_out_of_the_account_menu(client):
    page = client.page("/")
    account = page.tree.xpath("//details[@class='bar-person']//a/@href")
    assert account == ["/help/", "/me"]
    groups = page.tree.xpath("//nav[@aria-label='All pages']//a/@href")
    assert {"/reports", "/outbox", "/floor/capacity"} <= set(groups)


@pytest.mark.parametrize(
    ("role", "path"),
    [(Role.MACHINIST, "/my-work"), (Role.OWNER, "/"), (Role.COUNTER, "/"), (Role.READER, "/")],
)
def test_a_machinist_comes_to_their_own_work_first(stranger, db, role, path):
    create_person(db, role, login="idris")
    page = stranger.submit("/sign-in", {"login": "idris", "password": factories.PASSWORD})
    assert page.path == path


def approved(db, kind="hot-wash"):
    job = create_job(db)
    step = create_operation(db, job.heads[0], kind, price="60")
    factories.approve(db, BY, job)
    return step


def tags(page, heading):
    path = "//h2[.=$heading]/following-sibling::*[1]//h3/a"
    return [link.text for link in page.tree.xpath(path, heading=heading)]


def test_a_user_sees_what_they_have_in_hand_and_what_they_can_take_next(signed_in, db):
    client = signed_in(Role.MACHINIST)
    (me,) = [person for person in users.list_all(db) if person.role is Role.MACHINIST]
    mine, theirs, free = approved(db), approved(db), approved(db)
    inspected = create_job(db)
    create_operation(db, inspected.heads[0], "inspection")
    operations.start(db, Actor(me, BY.at), mine)
    other = create_person(db, login="other")
    operations.start(db, Actor(other, BY.at), theirs)
    page = client.page("/my-work")
    assert tags(page, "In hand") == [mine.job_head.tag]
    assert set(tags(page, "Up next")) == {free.job_head.tag, inspected.heads[0].tag}
    page = client.press(page, f"Start step: Hot-wash, {free.job_head.tag}")
    assert "In progress" in page.text


def test_the_counter_sees_what_is_to_be_quoted_and_nothing_of_the_bench(signed_in, db):
    client = signed_in(Role.COUNTER)
    job = create_job(db)
    create_operation(db, job.heads[0])
    approved(db)
    page = client.page("/my-work")
    assert tags(page, "Up next") == [job.heads[0].tag]
    assert "You have no step in hand." in page.text


@pytest.mark.slow
def test_a_card_says_what_the_step_asks_for_and_that_nothing_is_approved(signed_in, db):
    head = create_job(db).heads[0]
    text = "Frozen inserts: head at 200 °C"
    create_operation(db, head, "hot-wash", price="60", instructions=text)
    client = signed_in(Role.MACHINIST)
    card = client.page("/my-work").tree.xpath("//li[@class='work-card']")[0].text_content()
    assert text in card
    assert "Not approved yet. Tear down, wash and inspect only. Do not cut." in " ".join(
        card.split()
    )
    assert "gloves, face shield" in card
    assert "Do not cut." in client.page(f"/heads/{head.tag}").text
    factories.approve(db, BY, head.job)
    assert "Do not cut." not in client.page("/my-work").text
