"""A test at several pressures on its page and on its certificate: one chart, one table."""

from __future__ import annotations

import dataclasses
import re

import pymupdf

from shopflow.calc.pressure_exponent import at_pressures, exponents
from shopflow.papers import flow_certificate
from shopflow.papers.several_pressures import pressure_chart
from shopflow.services.bench import sessions, test_results
from shopflow.services.certificates.recomputation import recompute
from shopflow.units import US_CUSTOMARY
from tests.cli.sessions import INTAKE_US
from tests.factories import create_session, create_visit
from tests.pdf import samples
from tests.web.test_comparisons import table_of

PRESSURES = (6.0, 10.0, 16.0, 25.0)
FLOWS = {lift: [round(at / 5.0 * pressure**0.5, 1) for pressure in PRESSURES]
         for lift, at in ((0.1, 48.0), (0.3, 141.0))}  # fmt: skip
SEVERAL = re.sub(r"(?m)^lift = \[[\s\S]*", "", INTAKE_US) + "\n".join(
    [
        f"lift = [{', '.join(map(str, FLOWS))}]",
        f"flow = [{', '.join(map(str, FLOWS.values()))}]",
        'pressure_unit = "inH2O"',
        f"pressure = [{', '.join([str(list(PRESSURES))] * len(FLOWS))}]",
        "",
    ]
)


def test_a_page_shows_each_exponent_and_the_coefficients_over_the_pressure_ratio(client, db):
    row = create_session(db, create_visit(db), SEVERAL)
    page = client.page(f"/flow-tests/{row.id}")
    rows = table_of(page, "Exponent of the flow over the pressure")
    fitted = exponents(sessions.reduction(row))
    assert [cells[3] for cells in rows] == [f"{item.value:.3f}" for item in fitted]
    assert [cells[1] for cells in rows] == ["4", "4"]
    assert rows[0][2] == "6.00 to 25.00 inH₂O"
    points = at_pressures(sessions.reduction(row))
    chart = pressure_chart(points, US_CUSTOMARY)
    assert [series.name for series in chart.series] == ["0.100 in", "0.300 in"]
    # The data table of the chart has every point that is drawn.
    (table,) = page.tree.xpath("//figure[@id='chart-pressures']//table")
    cells = [cell.text_content() for cell in table.findall("tbody/tr/td")]
    assert len([cell for cell in cells if cell.strip() != "–"]) == len(points)
    assert "@ 6.0" in page.text


def test_a_test_at_one_pressure_has_no_such_part(client, db):
    row = create_session(db, create_visit(db))
    assert "At several pressures" not in client.page(f"/flow-tests/{row.id}").text


def test_a_certificate_prints_what_the_page_shows(db):
    row = create_session(db, create_visit(db), SEVERAL)
    result = test_results.session_result(row)
    content = flow_certificate(samples.certificate([sessions.document(row)], ()))
    with pymupdf.open(stream=content) as pdf:
        text = " ".join(" ".join(page.get_text().split()) for page in pdf)
    assert "Discharge coefficient by lift and pressure ratio" in text
    for point in result.at_pressures:
        assert f"{point.ratio:.4f}" in text
    for item in result.exponents:
        assert f"{item.value:.3f}" in text


def test_what_several_pressures_give_comes_out_again_from_the_file(db):
    row = create_session(db, create_visit(db), SEVERAL)
    session = test_results.session_result(row)
    certificate = dataclasses.replace(samples.certificate([]), sessions=(session,))
    assert recompute(certificate, {session.file_name: session.file_text}).agrees
    wrong = dataclasses.replace(session.exponents[0], value=0.6)
    changed = dataclasses.replace(session, exponents=(wrong, *session.exponents[1:]))
    certificate = dataclasses.replace(certificate, sessions=(changed,))
    again = recompute(certificate, {session.file_name: session.file_text})
    assert [text for text in again.differing if "several pressures 1, value" in text]
