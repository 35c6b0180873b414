"""The table of ASVS points: whole, and nothing in it met by what does not exist."""

from __future__ import annotations

import ast
import re
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

import shopflow

ROOT = Path(__file__).parents[2]
TABLE = Path(__file__).with_name("asvs.md").read_text(encoding="utf-8")
POINTS = 253
"""Of levels 1 and 2 in ASVS 5.0.0 (OWASP/ASVS, 5.0/docs_en, the CSV's column L)."""

LEVEL_3 = (
    "1.2.10", "1.3.12", "1.5.3", "2.3.5", "2.4.2", "3.2.3", "3.3.5", "3.4.7", "3.4.8", "3.5.6",
    "3.5.7", "3.5.8", "3.7.3", "3.7.4", "3.7.5", "4.1.4", "4.1.5", "4.2.2", "4.2.3", "4.2.4",
    "4.2.5", "5.2.4", "5.2.5", "5.2.6", "5.3.3", "6.3.5", "6.3.6", "6.3.7", "6.3.8", "6.4.5",
    "6.4.6", "6.5.6", "6.5.7", "6.5.8", "6.6.4", "7.5.3", "8.1.3", "8.1.4", "8.2.4", "8.3.2",
    "8.3.3", "8.4.2", "10.2.3", "10.3.5", "10.4.12", "10.4.13", "10.4.14", "10.4.15", "10.4.16",
    "11.1.3", "11.1.4", "11.2.4", "11.2.5", "11.3.4", "11.3.5", "11.5.2", "11.6.2", "12.1.4",
    "12.1.5", "12.3.5", "13.1.2", "13.1.3", "13.1.4", "13.2.6", "13.3.3", "13.3.4", "13.4.6",
    "13.4.7", "14.2.5", "14.2.6", "14.2.7", "14.2.8", "15.1.4", "15.1.5", "15.2.4", "15.2.5",
    "16.5.4", "17.1.2", "17.2.5", "17.2.6", "17.2.7", "17.2.8",
)  # fmt: skip
"""Of sections that have points of levels 1 or 2 too; 3.1, 3.6, 6.7, 11.7 and 15.4 have none."""


def rows() -> list[list[str]]:
    """Point, level, what it asks, standing, where or why."""
    return [
        [cell.strip() for cell in line.strip("|").split("|")]
        for line in TABLE.splitlines()
        if line.startswith("| V")
    ]


def test_every_point_of_levels_1_and_2_is_there_once():
    points = [row[0] for row in rows()]
    assert len(points) == len(set(points)) == POINTS
    recorded = {point.removeprefix("V") for point in points} | set(LEVEL_3)
    sections: dict[str, int] = {}
    for point in recorded:
        section, _, number = point.rpartition(".")
        sections[section] = max(sections.get(section, 0), int(number))
    # Numbers of a section run without a hole.
    assert len(recorded) == sum(sections.values())


def test_the_counts_at_its_head_are_those_of_the_table():
    counted = Counter(row[3] for row in rows())
    for standing in ("met", "not met", "n/a"):
        assert f"| {standing} | {counted[standing]} |" in TABLE
    assert set(counted) == {"met", "not met", "n/a"}


@pytest.mark.parametrize("row", rows(), ids=lambda row: row[0])
def test_what_is_met_names_what_holds_it(row: list[str]):
    point, level, asks, standing, where = row
    assert level in ("1", "2")
    assert asks
    assert where
    named = re.findall(r"`([^`]+\.(?:py|js|md|toml|html))(?:::(\w+))?`", where)
    if standing == "met" and not named:
        section = re.search(r"(\w+) below", where)
        assert section or "constants" in where or "`url_for`" in where, f"{point} names nothing"
        assert section is None or f"## {section[1].capitalize()}" in TABLE
    for path, test in named:
        assert (ROOT / path).is_file(), f"{point}: there is no {path}"
        if test:
            content = (ROOT / path).read_text(encoding="utf-8")
            assert f"def {test}(" in content, f"{point}: {path} has no {test}"


def calls() -> Iterator[tuple[Path, str, ast.Call]]:
    """Every call in the program: file, what is called, and the call."""
    for path in sorted(Path(shopflow.__file__).parent.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call):
                yield path, ast.unparse(node.func), node


DANGEROUS = re.compile(
    r"(eval|exec|__import__|pickle\.\w+|marshal\.\w+|os\.(system|popen|exec\w*|spawn\w*)|"
    r"subprocess\.\w+|yaml\.\w+|hashlib\.(md5|sha1)|random\.\w+|Template|render_template_string|"
    r"tempfile\.mktemp|shelve\.\w+|xml\.\w+\.parse|urlopen|requests\.\w+)"
)


HARMLESS = {
    # The demo's drawings use chance to draw with, not for a secret.
    ("demo/photos.py", "random.Random"),
    # The simulated bench's noise, which must come again the same.
    ("simulated/bench.py", "random.Random"),
    # The checksum that a PDF gives of a file inside it, by ISO 32000-1, 7.11.4: no guard.
    ("papers/description.py", "hashlib.md5"),
    # One fixed command: pictures and PDFs are read in processes of their own.
    ("confined/__init__.py", "subprocess.run"),
}


def test_no_dangerous_call_is_made():
    """ASVS 1.2.5, 1.3.2, 1.5.2, 11.4.1: neither code of input, nor commands, nor broken hashes."""
    matches = [
        call
        for path, name, _ in calls()
        if DANGEROUS.fullmatch(name) and (call := ("/".join(path.parts[-2:]), name)) not in HARMLESS
    ]
    assert matches == []


FORMATS_OF_THE_PROGRAM = {
    # Texts in the code, and their translations in the program's own catalogues.
    ("texts.py", "text"),
    ("slips.py", "cause"),
    ("parsed_query.py", "reason"),
    ("seat.py", "named"),
    ("head_facts.py", "str(HEADS[side])"),
    ("limit_checks.py", "str(STOPPED_BY[row.verdict])"),
    ("work_orders.py", "str(TEST_BLANK)"),
    ("job_templates.py", "str(LIKE_JOB)"),
    # Headings of the registry of results.
    ("flow_test.py", "row.column"),
}


PATTERNS_OF_THE_PROGRAM = {
    # Those of the program's own schema of open data.
    ("validation.py", "schema['pattern']"),
    # The shop's own file beside its own bench; it never comes over the network.
    ("settings.py", "str(value)"),
}


def test_no_pattern_is_made_of_input():
    """ASVS 1.2.9, 1.3.10: patterns and format strings are constants of the program."""
    for path, name, call in calls():
        if re.fullmatch(r"re\.(compile|match|search|fullmatch|sub|split|findall|finditer)", name):
            pattern = ast.unparse(call.args[0])
            assert "input" not in pattern, path
            constant = isinstance(call.args[0], ast.Constant | ast.JoinedStr | ast.BinOp)
            constant = constant or (path.name, pattern) in PATTERNS_OF_THE_PROGRAM
            assert constant or pattern.isupper() or pattern.startswith("_"), (path, pattern)
        if name.endswith(".format") and isinstance(call.func, ast.Attribute):
            content = ast.unparse(call.func.value)
            constant = isinstance(call.func.value, ast.Constant) or content.isupper()
            recorded = content == "super()" or (path.name, content) in FORMATS_OF_THE_PROGRAM
            assert constant or recorded, (path, content)
