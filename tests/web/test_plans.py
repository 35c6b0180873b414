"""Steps and plans: for all heads alike, copied, saved as templates, begun by starters."""

from __future__ import annotations

import pytest

from shopflow.models import Job, Role
from shopflow.services.measuring import limits, measurements
from shopflow.services.routing import operations, work_plans
from tests import factories


@pytest.fixture
def pair(db) -> Job:
    """A job of two heads alike."""
    job = factories.create_job(db, head_count=2)
    db.commit()
    return job


def kinds_by_head(db, job: Job) -> list[list[str]]:
    """Codes of the steps of each head of a job."""
    db.expire_all()
    return [[step.kind.code for step in visit.operations] for visit in job.heads]


def test_a_step_is_added_to_both_heads(client, db, pair):
    left, right = pair.heads
    page = client.page(f"/heads/{left.tag}/steps/new")
    assert "Apply to both heads" in page.text
    kind = operations.kind_by_code(db, "guide").id
    page = client.submit(page, {"kind_id": str(kind), "all_heads": "y"})
    assert page.notices == [f"Step added on {left.tag}, {right.tag}: Fit and size guides."]
    assert kinds_by_head(db, pair) == [["guide"], ["guide"]]


def test_a_step_is_added_to_one_head_where_the_box_is_clear(client, db, pair):
    kind = operations.kind_by_code(db, "guide").id
    client.submit(f"/heads/{pair.heads[1].tag}/steps/new", {"kind_id": str(kind)})
    assert kinds_by_head(db, pair) == [[], ["guide"]]


def test_a_head_without_a_like_is_not_asked_about_others(client, db):
    visit = factories.create_visit(db)
    assert "Apply to" not in client.page(f"/heads/{visit.tag}/steps/new").text


def test_ten_heads_are_counted(client, db):
    job = factories.create_job(db, head_count=10)
    work_plans.save(db, factories.BY, "Wash", "", [{"kind": "hot-wash"}])
    page = client.page(f"/heads/{job.heads[4].tag}/steps/work-plan")
    assert "Apply to all 10 heads" in page.text
    client.submit(page, {"all_heads": "y"})
    assert kinds_by_head(db, job) == [["hot-wash"]] * 10


def test_a_change_is_made_on_both_heads(client, db, pair):
    for visit in pair.heads:
        factories.create_operation(db, visit, "guide")
    step = pair.heads[0].operations[0]
    page = client.submit(
        f"/steps/{step.id}/change",
        {"instructions": "Bronze, 0.035 mm", "notes": "tight", "all_heads": "y"},
    )
    left, right = pair.heads
    assert page.notices == [f"Step saved on {left.tag}, {right.tag}: Fit and size guides."]
    db.expire_all()
    assert [row.operations[0].instructions for row in pair.heads] == ["Bronze, 0.035 mm"] * 2
    assert [row.operations[0].notes for row in pair.heads] == ["tight", ""]


def test_a_step_only_one_head_has_is_changed_there_alone(client, db, pair):
    step = factories.create_operation(db, pair.heads[0], "guide")
    assert "Apply to" not in client.page(f"/steps/{step.id}/change").text


def test_a_plan_is_copied_from_the_other_head(client, db, pair):
    left, right = pair.heads
    for code in ("teardown", "guide"):
        factories.create_operation(db, left, code)
    page = client.page(f"/heads/{right.tag}/work-plan/copy")
    assert f"{left.tag}, {left.head.engine_type.title}" in page.text
    page = client.submit(page, {"source": left.tag})
    assert page.notices == [f"Plan of {left.tag}: 2 steps added."]
    assert kinds_by_head(db, pair) == [["teardown", "guide"]] * 2


def test_a_plan_is_searched_by_label_and_must_be_chosen(client, db, pair):
    other = factories.create_operation(db, kind="resurface").job_head
    address = f"/heads/{pair.heads[0].tag}/work-plan/copy?q={other.tag}"
    page = client.submit(address, {}, status=422)
    assert page.fault("source") == "Choose the head whose plan to copy"
    client.submit(address, {"source": other.tag, "all_heads": "y"})
    assert kinds_by_head(db, pair) == [["resurface"]] * 2


def test_a_search_that_finds_no_plan_says_so(client, pair):
    page = client.page(f"/heads/{pair.heads[0].tag}/work-plan/copy?q=zeppelin")
    assert "No head with a work plan matches this search." in page.text


def test_a_plan_is_saved_as_a_template(client, db, pair):
    factories.create_operation(db, pair.heads[0], "guide")
    address = f"/heads/{pair.heads[0].tag}/work-plan/template"
    page = client.submit(address, {"name": ""}, status=422)
    assert page.fault("name") == "Required: enter a value"
    page = client.submit(address, {"name": "Guides only", "prices": None})
    assert page.notices == ["Guides only is saved as a template."]
    (row,) = work_plans.list_all(db)
    assert [(step.kind.code, step.price) for step in row.steps] == [("guide", None)]


def test_a_head_without_steps_has_no_plan_to_save(client, pair):
    page = client.page(f"/heads/{pair.heads[0].tag}/work-plan/template")
    assert "This head has no steps to save yet." in page.text


def test_an_empty_shop_is_offered_starters_and_adds_what_it_ticks(client, db):
    page = client.page("/work-plans")
    page = client.page(page.links["See starter templates"])
    assert "Race port" in page.text
    page = client.submit(page, {}, status=422)
    assert "Choose at least one template" in page.text
    page = client.submit(page, {"keys": ["valve-job", "race-port"]})
    assert page.notices == ["Added: Valve job, Race port."]
    assert [row.name for row in work_plans.list_all(db)] == ["Race port", "Valve job"]
    left = client.page("/work-plans/starters")
    assert "Inspect and quote" in left.text
    assert "Race port" not in left.text


def test_a_machinist_neither_saves_nor_starts_templates(signed_in, pair):
    machinist = signed_in(Role.MACHINIST)
    assert machinist.get(f"/heads/{pair.heads[0].tag}/work-plan/template").status_code == 403
    assert machinist.get("/work-plans/starters").status_code == 403


def test_limits_are_copied_from_another_engine_type(client, db):
    source, target = (factories.create_engine_type(db) for _ in range(2))
    kind = measurements.kind_by_code(db, "guide clearance")
    limits.set_(db, factories.BY, source, kind, "", {"upper": "0.05 mm"})
    page = client.page(f"/engines/{target.id}/limits")
    page = client.page(page.links["Copy limits"])
    page = client.submit(page, {"source_id": ""}, status=422)
    assert page.fault("source_id") == "Required: choose one"
    page = client.submit(page, {"source_id": str(source.id)})
    assert page.notices == [f"1 limit copied from {source.title}."]
    page = client.submit(f"/engines/{target.id}/limits/copy", {"source_id": str(source.id)})
    assert page.notices == [f"Nothing copied: every limit of {source.title} is set here already."]
