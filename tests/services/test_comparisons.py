"""Choosing bench sessions to compare, and what comes of it, on both databases."""

from __future__ import annotations

import pytest
from sqlalchemy.orm import Session

from shopflow.calc.array_types import Against
from shopflow.calc.ratio import ratio
from shopflow.calc.verdicts import Verdict
from shopflow.errors import NotFoundError
from shopflow.services.analysis import comparisons, test_choice
from shopflow.services.analysis.side_ratios import side_ratios
from shopflow.services.bench import sessions
from tests.cli.sessions import AFTER_US, EXHAUST_SI, INTAKE_US
from tests.factories import create_job, create_session, create_visit

OTHER_PORT = INTAKE_US.replace('side = "intake"', 'side = "intake"\ncylinder = "2"').replace(
    "23.5, 23.9", "24.5, 24.9"
)
BARE = INTAKE_US.replace('calibration = "1.2 %"', "").replace('repeatability = "0.4 %"', "")


def test_sessions_are_chosen_in_order_each_once(db: Session) -> None:
    first, second = create_session(db), create_session(db)
    assert test_choice.chosen(db, [second.id, first.id, second.id]) == [second, first]
    assert test_choice.chosen(db, []) == []
    with pytest.raises(NotFoundError):
        test_choice.chosen(db, [first.id, 99999])


def test_heads_are_offered_by_text_else_of_the_same_job_else_the_latest(db: Session) -> None:
    job = create_job(db, head_count=2)
    mine, sister = job.heads
    row = create_session(db, mine)
    elsewhere = create_session(db).job_head
    create_visit(db)
    assert test_choice.on_offer(db, "", [row]) == [mine, sister]
    assert set(test_choice.on_offer(db, "", [])) == {mine, elsewhere}
    assert test_choice.on_offer(db, elsewhere.tag, [row]) == [elsewhere]
    assert test_choice.on_offer(db, "zzzz", [row]) == []


def test_names_say_only_what_tells_sessions_apart(db: Session) -> None:
    visit = create_visit(db)
    before = create_session(db, visit)
    after = create_session(db, visit, AFTER_US)
    exhaust = create_session(db, visit, EXHAUST_SI)
    elsewhere = create_session(db)
    assert comparisons.names([before, after]) == ["as received", "seat cut"]
    assert comparisons.names([before, exhaust]) == ["intake: as received", "exhaust: as received"]
    assert comparisons.names([before, elsewhere]) == [
        f"{row.job_head.tag}: as received" for row in (before, elsewhere)
    ]


def test_two_sessions_alike_in_every_word_are_told_apart_by_their_keys(db: Session) -> None:
    visit = create_visit(db)
    rows = [create_session(db, visit), create_session(db, visit)]
    assert comparisons.names(rows) == [f"as received, session {row.id}" for row in rows]


def test_a_difference_is_the_comparison_and_its_parts(db: Session) -> None:
    visit = create_visit(db)
    rows = [create_session(db, visit), create_session(db, visit, AFTER_US)]
    first, last = comparisons.members(rows)
    answer = comparisons.difference(first, last, Against.LIFT)
    assert answer.areas == sessions.compare(*rows).areas
    assert [point.area for point in answer.points] == list(answer.areas.points)
    assert [step.part.name for step in answer.parts] == ["whole", "low", "mid", "high"]
    assert answer.is_gain
    assert answer.mean is not None
    assert answer.mean.is_stated
    assert answer.cautions == ()


def test_valves_of_two_sizes_are_better_held_at_like_lift_over_diameter(db: Session) -> None:
    rows = [
        create_session(db),
        create_session(db, text=INTAKE_US.replace('"1.732 in"', '"1.85 in"')),
    ]
    first, last = comparisons.members(rows)
    at_lift = comparisons.difference(first, last, Against.LIFT)
    assert any("differ in size" in text for text in at_lift.cautions)
    at_like = comparisons.difference(first, last, Against.OVER_DIAMETER)
    assert at_like.cautions == ()
    # Flows are the same lift by lift; at like L/D the smaller valve is read at less lift.
    assert at_lift.points[2].gain == pytest.approx(0.0, abs=1e-12)
    assert at_like.points[2].gain > 0.0


def test_what_states_no_uncertainty_shows_nothing(db: Session) -> None:
    bare = BARE.replace('pressure = "0.3 %"', "").replace('lift = "0.001 in"', "")
    first, last = comparisons.members([create_session(db, text=bare), create_session(db)])
    answer = comparisons.difference(first, last, Against.LIFT)
    assert {point.verdict for point in answer.points} == {Verdict.NOT_STATED}
    assert any("uncertainty of its lift setting" in text for text in answer.reasons)


def test_two_ports_have_neither_gained_nor_lost_on_each_other(db: Session) -> None:
    visit = create_visit(db)
    rows = [create_session(db, visit), create_session(db, visit, OTHER_PORT)]
    first, last = comparisons.members(rows)
    assert not comparisons.difference(first, last, Against.LIFT).is_gain


def test_ports_of_a_head_side_by_side(db: Session) -> None:
    visit = create_visit(db)
    texts = (INTAKE_US, OTHER_PORT, EXHAUST_SI)
    members = comparisons.members([create_session(db, visit, text) for text in texts])
    (ports,) = comparisons.port_spreads(members, Against.LIFT)
    assert ports.side == "intake"
    assert len(ports.points) == 6
    assert ports.points[0].spread > 0.0
    assert ports.points[1].spread == 0.0
    assert ports.cautions == ()


def test_ports_of_several_stages_are_pointed_out(db: Session) -> None:
    visit = create_visit(db)
    members = comparisons.members([create_session(db, visit), create_session(db, visit, AFTER_US)])
    (ports,) = comparisons.port_spreads(members, Against.LIFT)
    assert any("several stages" in text for text in ports.cautions)


def test_heads_of_a_job_are_held_against_each_other(db: Session) -> None:
    job = create_job(db, head_count=2)
    item, other = job.heads
    rows = [
        create_session(db, item),
        create_session(db, item, OTHER_PORT),
        create_session(db, other),
    ]
    members = comparisons.members(rows)
    (answer,) = comparisons.head_differences(members, Against.LIFT)
    assert answer.before == f"{item.tag}, mean of 2 ports"
    assert answer.after == f"{other.tag}, as received"
    assert answer.points[0].gain < 0.0
    assert comparisons.head_differences(members[:2], Against.LIFT) == []


def test_the_latest_of_every_port_of_a_jobs_heads(db: Session) -> None:
    job = create_job(db, head_count=2)
    item, other = job.heads
    create_session(db, item, EXHAUST_SI)
    create_session(db, item)
    later = create_session(db, item, AFTER_US)
    theirs = create_session(db, other)
    answer = test_choice.latest_of_ports(job.heads)
    assert [(row.job_head, row.side) for row in answer] == [
        (item, "intake"),
        (item, "exhaust"),
        (other, "intake"),
    ]
    assert answer[0] is later
    assert answer[2] is theirs


def test_exhaust_goes_over_the_intake_of_its_cylinder(db: Session) -> None:
    visit = create_visit(db)
    other = INTAKE_US.replace('side = "intake"', 'side = "intake"\ncylinder = "2"')
    rows = [create_session(db, visit, text) for text in (INTAKE_US, other, EXHAUST_SI)]
    intake, _, exhaust = members = comparisons.members(rows)
    (answer,) = side_ratios(members, Against.LIFT)
    assert answer.intake is intake
    assert answer.ratio == ratio(intake.reduction, exhaust.reduction)


def test_without_an_intake_there_is_no_ratio(db: Session) -> None:
    members = comparisons.members([create_session(db, text=EXHAUST_SI)])
    assert side_ratios(members, Against.LIFT) == []
