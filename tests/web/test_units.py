"""The shop's units on its pages, after they were changed too."""

from __future__ import annotations

import pytest
from flask import Flask
from flask.testing import FlaskClient
from jinja2 import Environment
from jinja2.nodes import EvalContext, Filter, Impossible
from sqlalchemy.orm import Session

from shopflow.services.paperwork import facts
from shopflow.web import filters
from tests.factories import create_session, create_visit
from tests.optional import present
from tests.web.client import Client, words


def folded(env: Environment, source: str) -> list[str]:
    """Filters of constants that Jinja evaluates when it compiles this template."""
    names = []
    for node in env.parse(source).find_all(Filter):
        try:
            node.as_const(EvalContext(env))
        except Impossible:
            continue
        names.append(node.name)
    return names


def test_no_template_fixes_what_a_filter_shows_when_it_is_compiled(web_app: Flask):
    env = web_app.jinja_env
    names = env.list_templates(extensions=["html"])
    loader = present(env.loader)
    sources = {name: loader.get_source(env, name)[0] for name in names}
    ours = {filter_.__name__ for filter_ in filters._FILTERS} | {"bytes"}
    by_name = {name: set(folded(env, source)) & ours for name, source in sources.items()}
    assert {name for name, filters_ in by_name.items() if filters_} == set()
    # The search finds one that Jinja does evaluate.
    assert folded(env, "{{ 'flow'|upper }}") == ["upper"]
    assert sum("|unit" in source for source in sources.values()) >= 10


@pytest.mark.parametrize("address", ["/heads/{tag}", "/flow-tests/{key}"])
def test_headings_and_figures_change_together_with_the_shops_units(
    client: FlaskClient, db: Session, address: str
):
    assert isinstance(client, Client)
    visit = create_visit(db)
    row = create_session(db, visit)
    db.flush()
    at = address.format(tag=visit.tag, key=row.id)

    def shown() -> str:
        page = client._page(client.get(at, follow_redirects=True), 200)
        return " ".join(words(item) for item in page.tree.findall(".//th"))

    assert "cfm" in shown()
    client.submit("/shop", {"unit_system": "si"})
    assert "L/s" in shown()
    assert "cfm" not in shown()
    client.submit("/shop", {"unit_system": "us"})
    assert "cfm" in shown()


def test_units_are_chosen_by_quantity(client: FlaskClient, db: Session):
    """Lifts in millimeters and flow in cfm, on pages, in forms and in documents."""
    assert isinstance(client, Client)
    visit = create_visit(db)
    row = create_session(db, visit)
    db.flush()
    client.submit("/shop", {"length_unit": "mm", "air_pressure_unit": "mbar"})
    page = client.page(f"/flow-tests/{row.id}")
    headings = " ".join(words(item) for item in page.tree.findall(".//th"))
    assert "cfm" in headings
    assert "mm" in headings
    display = facts.display(db)
    assert display.unit_choices == (("length", "mm"), ("air_pressure", "mbar"))
    assert (display.units.unit("lift"), display.units.unit("flow")) == ("mm", "cfm")
    assert client.page("/shop").value("length_unit") == "mm"
    client.submit("/shop", {"length_unit": "", "air_pressure_unit": ""})
    assert facts.display(db).unit_choices == ()
