"""Comparing sessions in the browser: the picker, the ways to compare, what is said in words."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest

from shopflow.services.analysis import test_choice
from shopflow.services.bench import sessions
from tests.cli.sessions import AFTER_US, EXHAUST_SI, INTAKE_US
from tests.factories import create_job, create_session, create_visit
from tests.web.client import words

PORT_2 = INTAKE_US.replace('side = "intake"', 'side = "intake"\ncylinder = "2"')


def compared(*rows, **rest):
    """Address of a comparison of these sessions."""
    pairs = [*(("s", row.id) for row in rows), *rest.items()]
    return "/compare?" + "&".join(f"{name}={value}" for name, value in pairs)


def table_of(page, caption):
    """Rows of the table whose caption begins so."""
    (table,) = page.tree.xpath(
        "//table[starts-with(normalize-space(caption), $caption)]", caption=caption
    )
    return [[words(cell) for cell in row] for row in table.findall("tbody/tr")]


@pytest.fixture
def visit(db):
    return create_visit(db)


@pytest.fixture
def before(db, visit):
    return create_session(db, visit)


@pytest.fixture
def after(db, visit):
    return create_session(db, visit, AFTER_US)


def test_two_sessions_of_a_port_are_before_and_after(client, before, after):
    page = client.page(compared(before, after))
    points = sessions.compare(before, after).points
    rows = table_of(page, "Seat cut, against as received")
    assert [row[6] for row in rows] == [
        f"{point.area_gain_percent:+.1f} %".replace("-", "−") for point in points
    ]
    assert [row[8] for row in rows] == [point.verdict for point in points]
    assert "in effective area, 0.06 to 0.45 in: " in page.text
    assert [row[0] for row in table_of(page, "Mean flow by part")] == [
        "All lifts both tests cover",
        "Low, L/D up to 0.15",
        "Mid, to 0.25",
        "High, beyond",
    ]
    assert len(page.tree.find_class("chart-box")) == 3


def test_a_difference_shows_what_comes_from_the_opening_and_what_from_the_shape(
    client, before, after
):
    page = client.page(compared(before, after))
    rows = table_of(page, "Of ")
    assert [row[2] for row in rows] == [row[6] for row in table_of(page, "Seat cut, against")]
    for row in rows:
        gain, opening, shape = (Decimal(cell.split(" ")[0].replace("−", "-")) for cell in row[2:5])
        assert gain == opening + shape
    assert "comes from the valve opening and" in page.text


def test_a_gain_without_a_seat_says_what_to_enter(client, db, visit):
    seatless = [
        re.sub(r"^(stem|seat|throat)_.*\n", "", text, flags=re.MULTILINE)
        for text in (INTAKE_US, AFTER_US)
    ]
    page = client.page(compared(*(create_session(db, visit, text) for text in seatless)))
    assert "enter stem, seat angle, seat width and throat of both tests" in page.text
    assert "comes from the valve opening" not in page.text


def test_the_old_address_leads_there(client, visit, before, after):
    page = client.page(f"/heads/{visit.tag}/compare?before={before.id}&after={after.id}")
    assert page.path == f"/compare?s={before.id}&s={after.id}"
    assert client.page(f"/heads/{visit.tag}/compare").path == page.path


def test_sessions_of_another_head_are_not_that_heads(client, db, before):
    other = create_visit(db)
    for query in (f"before={before.id}", "before=99999&after=1", f"before={before.id}&after=x"):
        client.page(f"/heads/{other.tag}/compare?{query}", status=404)
    client.page("/heads/none/compare", status=404)
    assert "not been flow-tested" in client.page(f"/heads/{other.tag}/compare").text


@pytest.mark.parametrize("key", ["99999", "x", "-1", "9" * 30, "²", "٣", ""])
def test_a_session_that_is_not_there_is_said_so(client, key):
    client.page(f"/compare?s={key}", status=404)


def test_sessions_are_picked_one_by_one(client, db, visit, before):
    elsewhere = create_session(db)
    page = client.page("/compare")
    assert "No tests chosen yet" in page.text
    page = client.page(page.links["Add + Intake: as received"])
    answer = client.page(f"/compare?s={before.id}&q={elsewhere.job_head.tag}")
    page = client.page(answer.links["Add + Intake: as received"])
    assert page.path == f"/compare?s={before.id}&s={elsewhere.id}"
    assert "against" in page.text
    page = client.page(page.links[f"Remove {visit.tag}: as received"])
    assert page.path == f"/compare?s={elsewhere.id}"


def test_a_search_that_finds_nothing_says_so_and_keeps_what_is_chosen(client, before):
    page = client.page(f"/compare?s={before.id}&q=zzzq")
    assert "No head matches “zzzq”" in page.text
    assert [item.value for item in page.tree.xpath("//main//input[@name='s']")][:1] == [
        str(before.id)
    ]


def test_nothing_tested_yet_is_said_so(client):
    assert "No head has been flow-tested yet" in client.page("/compare").text


def test_eight_are_compared_at_a_time(client, db, visit):
    rows = [create_session(db, visit) for _ in range(9)]
    page = client.page(compared(*rows))
    assert "8 tests can be compared at a time" in page.text
    assert "Add a test" not in page.text
    assert len(page.tree.xpath("//ol[@id='picked']/li")) == test_choice.MOST
    assert len(page.tree.xpath("//ol[@id='picked']/li")) == 8


def test_of_many_the_two_ends_are_chosen(client, db, visit, before, after):
    third = create_session(db, visit, PORT_2.replace("as received", "ported"))
    address = compared(before, third, after, mode="gain", before=before.id, after=third.id)
    page = client.page(address)
    assert page.value("before") == str(before.id)
    assert page.value("after") == str(third.id)
    assert table_of(page, "Ported, cylinder 2, against as received")
    # Taking one end out leaves an address that still works.
    page = client.page(page.links["Remove ported, cylinder 2"])
    assert page.path == f"/compare?s={before.id}&s={after.id}&mode=gain&before={before.id}"


def test_ports_side_by_side(client, db, visit, before):
    create_session(db, visit, PORT_2.replace("101.0, 101.5, 100.8", "106.0, 106.5, 105.8"))
    page = client.page(f"/heads/{visit.tag}/compare?ports=")
    assert "mode=ports" in page.path
    assert "Each port against the mean of its side" in page.text
    rows = table_of(page, "Intake ports, 2 side by side")
    assert [row[-1] for row in rows].count("the ports differ") == 1
    assert rows[0][-1] == "no difference shown"
    assert "apart in mean effective area" in page.text
    assert rows[2][4:6] == ["as received", "as received, cylinder 2"]


def test_heads_of_a_job(client, db):
    job = create_job(db, head_count=2)
    for head in job.heads:
        create_session(db, head)
        create_session(db, head, EXHAUST_SI)
    page = client.page(client.page(f"/jobs/{job.number}").links["Compare heads"])
    assert len(page.tree.xpath("//ol[@id='picked']/li")) == 4
    first, second = (head.tag for head in job.heads)
    assert f"{second}, as received, against {first}, as received" in page.text
    tables = page.tree.xpath("//table[@class='figures']")
    assert len(tables) == 2
    assert {words(row[-1]) for table in tables for row in table.findall("tbody/tr")} <= {
        "no difference shown",
        "not stated",
    }


def test_the_job_of_one_head_compares_each_side_before_and_after(client, db, visit, before):
    texts = (AFTER_US, EXHAUST_SI, EXHAUST_SI.replace("52.3", "52.9"))
    rows = [before, *(create_session(db, visit, text) for text in texts)]
    page = client.page(f"/jobs/{visit.job.number}/compare")
    assert [str(row.id) for row in rows] == re.findall(r"s=(\d+)", page.path)
    assert "Last test of each port against its first" in page.text
    assert "side by side" not in page.text


def test_a_job_without_tests_leads_to_the_picker(client, db, visit):
    page = client.page(f"/jobs/{visit.job.number}/compare")
    assert "not been flow-tested" in page.text


@pytest.mark.parametrize("against", ["lift", "ld"])
def test_exhaust_against_intake(client, db, visit, before, against):
    exhaust = create_session(db, visit, EXHAUST_SI)
    page = client.page(compared(before, exhaust, against=against))
    assert "of the intake’s mean effective area" in page.text
    rows = table_of(page, "Exhaust: as received, over intake: as received")
    assert all(0.3 < float(row[4]) < 1.2 for row in rows)
    meet = "at like lift over valve diameter" if against == "ld" else "at like lift."
    assert meet in page.text


@pytest.mark.parametrize("mode", ["gain", "ports", "heads", "ratio"])
@pytest.mark.parametrize("plot", ["flow", "curtain", "head", "least", "velocity", "energy", "gain"])
def test_every_way_and_every_quantity_has_a_page(client, db, visit, before, mode, plot):
    rows = [before, create_session(db, visit, EXHAUST_SI)]
    page = client.page(compared(*rows, mode=mode, plot=plot, against="ld"))
    assert page.value("plot") == plot
    assert page.tree.findall(".//svg")


def test_ways_that_do_not_fit_say_what_they_need(client, before, after):
    needs = {"heads": "exactly two heads", "ratio": "a test of each side"}
    for mode, what in needs.items():
        assert what in client.page(compared(before, after, mode=mode)).text


def test_two_sides_have_no_ports_side_by_side(client, db, visit, before):
    page = client.page(compared(before, create_session(db, visit, EXHAUST_SI), mode="ports"))
    assert "needs two or more tests of one side" in page.text


def test_no_range_in_common_is_said(client, db, visit, before):
    far = AFTER_US.replace("[0.06, 0.15, 0.25, 0.35, 0.45]", "[0.50, 0.55, 0.60, 0.65, 0.70]")
    page = client.page(compared(before, create_session(db, visit, far)))
    assert "have no range of lift in common" in page.text


def test_without_stated_uncertainty_nothing_is_called_a_gain(client, db, visit, before):
    bare = AFTER_US
    for line in ('calibration = "1.2 %"', 'repeatability = "0.4 %"', 'pressure = "0.3 %"',
                 'lift = "0.001 in"'):  # fmt: skip
        bare = bare.replace(line, "")
    page = client.page(compared(before, create_session(db, visit, bare)))
    rows = table_of(page, "Seat cut, against as received")
    assert {row[-1] for row in rows} == {"not stated"}
    assert {row[7] for row in rows} == {"–"}
    assert "uncertainty not stated" in page.text


def test_pages_lead_to_a_comparison(client, visit, before, after):
    for page in (f"/flow-tests/{before.id}", f"/heads/{visit.tag}", f"/heads/{visit.head_id}"):
        links = client.page(page).links
        assert any("comparison" in link for link in links), page


def test_before_and_after_of_a_head_shows_both_sides_each_its_own_pair(client, db, visit, before):
    exhaust = create_session(db, visit, EXHAUST_SI)
    after = create_session(db, visit, AFTER_US)
    later = create_session(db, visit, EXHAUST_SI.replace("schema = 1", 'schema = 1\nstage = "cut"'))
    page = client.page(f"/heads/{visit.tag}/compare")
    assert page.path == f"/compare?s={before.id}&s={after.id}&s={exhaust.id}&s={later.id}"
    assert table_of(page, "Intake: seat cut, against intake: as received")
    assert table_of(page, "Exhaust: cut, against exhaust: as received")
    for number in (1, 2):
        client.page(f"/compare/{number}/parts/whole?{page.path.partition('?')[2]}")
    # Two of them may still be chosen.
    page = client.page(f"{page.path}&before={exhaust.id}&after={later.id}")
    assert len(page.tree.xpath("//table[contains(caption, 'against')]")) == 1


def test_before_and_after_of_two_sides_is_a_ratio_and_never_a_gain_or_loss(
    client, db, visit, before
):
    exhaust = create_session(db, visit, EXHAUST_SI)
    for pair in ((before, exhaust), (exhaust, before)):
        address = compared(*pair, mode="gain", before=pair[0].id, after=pair[1].id)
        page = client.page(address)
        assert "neither gains or loses on the other" in page.text
        assert "of the intake’s mean effective area" in page.text
        assert not page.tree.xpath("//table[contains(., 'Gain')]")


def test_unlike_ports_flow_more_or_less_and_never_gain_or_lose(client, db, visit, before):
    other = create_session(db, visit, PORT_2.replace("101.0, 101.5, 100.8", "106.0, 106.5, 105.8"))
    page = client.page(compared(before, other, mode="gain"))
    rows = table_of(page, "As received, cylinder 2, against as received")
    assert "flows more" in {row[-1] for row in rows}
    for address in [link for link in page.links.values() if "/lifts/" in link][:3]:
        assert client.page(address).status == 200
    text = page.tree.find(".//main").text_content().lower()
    assert "a gain" not in text
    assert "a loss" not in text


def test_a_port_that_was_not_cut_has_no_gain(client, db, visit, before):
    again = create_session(
        db, visit, INTAKE_US.replace("101.0, 101.5, 100.8", "106.0, 106.5, 105.8")
    )
    page = client.page(compared(before, again))
    assert "No metal was cut between these tests: a difference is not a gain" in page.text
    rows = table_of(page, "As received, session")
    assert "flows more" in {row[-1] for row in rows}
    worth = client.page(f"/heads/{visit.tag}/gain-by-step")
    assert "No metal was cut since the test before" in worth.text
