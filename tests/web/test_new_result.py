"""A result added to the registry, `calc.results`, is found wherever results are shown."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pymupdf
import pytest

from shopflow import cli, papers
from shopflow.attached import attached_files
from shopflow.calc import margins, results
from shopflow.calc.result import Result, Table
from shopflow.documents import FlowCertificate
from shopflow.documents.snapshot import from_plain
from shopflow.services.accounts import api_tokens
from shopflow.services.actor import Actor
from shopflow.services.bench import sessions
from shopflow.services.certificates.recomputation import recompute
from tests import factories
from tests.cli.sessions import INTAKE_US

NEW = Result(
    key="speed_at_head",
    symbol="v_D",
    name="Speed at the valve heads",
    formula="v_D = q ÷ (π D² ÷ 4 × number of valves)",
    source="definition of a mean velocity",
    kind="velocity",
    values=lambda reduction: reduction.flow_as_tested / reduction.terms.head_area,
    errors=margins.flow_errors,
    numbers=lambda reduction, index: f"over {reduction.terms.head_area[index]:.6g} m²",
    table=Table.COEFFICIENTS,
    column="Speed at heads",
    short=("At heads", ""),
    plot="heads",
    label="Speed at heads",
    means="The flow as tested, spread over the valve heads.",
    limits="No air moves so there.",
)


@pytest.fixture(autouse=True)
def added(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(results, "RESULTS", (*results.RESULTS, NEW))


@pytest.fixture
def row(db):
    return factories.create_session(db)


def speeds(row) -> list[float]:
    answer = sessions.reduction(row)
    return list(map(float, answer.flow_as_tested / answer.terms.head_area))


def test_the_command_prints_it_and_its_json_ends_with_it(capsys, tmp_path: Path, row) -> None:
    path = tmp_path / "test.toml"
    path.write_text(INTAKE_US)
    assert cli.main(["reduce", str(path), "--json"]) == 0
    points = json.loads(capsys.readouterr().out)["points"]
    assert [point["speed_at_head"] for point in points] == speeds(row)
    assert [*points[0]] == [*results.IN_JSON, "speed_at_head"]
    assert cli.main(["reduce", str(path)]) == 0
    assert "At heads" in capsys.readouterr().out


def test_programs_are_told_of_it_and_given_it(db, stranger, row) -> None:
    described = stranger.get("/api/1/openapi.json").json["components"]["schemas"]["Point"]
    answer = described["properties"]["speed_at_head"]
    assert answer["type"] == "number"
    assert answer["description"].startswith("Speed at the valve heads, m/s: v_D = q ÷")
    assert "definition of a mean velocity" in answer["description"]
    secret = api_tokens.make(db, Actor.now(None), factories.token_values("read"))[1]
    headers = {"Authorization": f"Bearer {secret}"}
    points = stranger.get(f"/api/1/sessions/{row.id}", headers=headers).json["points"]
    assert [point["speed_at_head"] for point in points] == speeds(row)


def test_the_page_has_its_column_its_chart_and_its_working(client, row) -> None:
    page = client.page(f"/flow-tests/{row.id}?plot=heads")
    assert "Speed at heads, ft/s" in page.text
    assert page.value("plot") == "heads"
    working = client.page(f"/flow-tests/{row.id}/lifts/2")
    (section,) = working.tree.findall(".//section[@id='speed-at-head']")
    text = " ".join("".join(section.itertext()).split())
    shown = speeds(row)[1] / 0.3048
    assert f"Speed at the valve heads: {shown:.1f} ft/s" in text
    assert NEW.formula in text
    assert NEW.source in text


def test_the_spreadsheet_has_its_columns(client, row) -> None:
    text = client.get(f"/flow-tests/{row.id}/results.csv").text
    header, *lines = csv.reader(text.lstrip("\ufeff").splitlines())
    at = header.index("Speed at the valve heads, ft/s")
    assert header[at + 1] == "± Speed at the valve heads, ft/s, 95 %"
    rows = [float(line[at]) for line in lines]
    assert rows == pytest.approx([speed / 0.3048 for speed in speeds(row)], rel=1e-6)
    assert header[:3] == ["Lift, in", "Lift over valve head diameter", "Runs"]
    assert {line[header.index("Choked")] for line in lines} == {"no"}


def test_the_method_notes_explain_it(client) -> None:
    page = client.page("/how-the-numbers-are-made")
    assert NEW.means in page.text
    assert NEW.limits in page.text


def test_a_certificate_states_explains_and_recomputes_it(db, row) -> None:
    issued = factories.issue_certificate(db, factories.someone(db), [row])
    certificate = from_plain(FlowCertificate, issued.snapshot)
    stated = [point.value("speed_at_head") for point in certificate.sessions[0].points]
    assert stated == speeds(row)
    assert all(point.margin("speed_at_head") for point in certificate.sessions[0].points)
    with pymupdf.open(stream=issued.pdf) as pdf:
        text = " ".join(" ".join(page.get_text() for page in pdf).split())
    assert "Speed at heads" in text
    assert f"{NEW.means} {NEW.formula}" in text
    again = recompute(certificate, attached_files(issued.pdf))
    assert again.agrees
    assert again.compared > 0


def test_a_certificate_with_a_result_that_is_known_no_more_is_read_and_differs(
    db, row, monkeypatch
) -> None:
    issued = factories.issue_certificate(db, factories.someone(db), [row])
    certificate = from_plain(FlowCertificate, issued.snapshot)
    monkeypatch.setattr(results, "RESULTS", results.RESULTS[:-1])
    again = recompute(certificate, attached_files(issued.pdf))
    assert any("speed_at_head" in words for words in again.differing)
    assert papers.flow_certificate(certificate).startswith(b"%PDF")
