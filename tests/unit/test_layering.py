"""Imports point down: what each part of the package may know of the others."""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from functools import cache
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

import shopflow
from tests.sources import nodes

ROOT = Path(shopflow.__file__).parent
FILES = sorted(ROOT.rglob("*.py"))
OURS = "shopflow"

# What a part may import of ours, and of others beside the standard library.
ALLOWED: dict[str, tuple[set[str], set[str]]] = {
    "texts": (set(), {"babel"}),
    "errors": (set(), set()),
    "units": (set(), set()),
    "unit_choices": ({"units"}, set()),
    "spreadsheet": (set(), set()),
    "fonts": (
        {"fonts", "errors"},
        {"reportlab", "fontTools", "bidi", "uharfbuzz"},
    ),
    "attached": (set(), {"pikepdf"}),
    "confined": (set(), {"PIL"}),
    "claims": ({"confined", "errors"}, {"pypdf"}),
    "set_up_words": ({"calc", "units"}, set()),
    "sentences": ({"calc", "units", "set_up_words"}, set()),
    "calc": ({"calc", "units"}, {"numpy"}),
    "testfile": ({"testfile", "calc", "units", "errors"}, {"numpy", "tomli_w"}),
    "simulation": ({"simulation", "testfile", "calc", "units", "spreadsheet"}, set()),
    "bench_agent": (
        {"bench_agent", "calc", "units", "errors"},
        {"pymodbus", "pyvisa", "serial"},
    ),
    "camfile": ({"camfile", "testfile", "calc", "units", "errors"}, {"numpy"}),
    "charts": ({"charts", "fonts"}, {"reportlab"}),
    "documents": ({"documents", "units", "unit_choices", "calc", "sentences"}, {"babel"}),
    "e_invoice": ({"e_invoice", "documents"}, {"drafthorse"}),
    "papers": (
        {"papers", "documents", "e_invoice", "charts", "calc", "units", "fonts", "spreadsheet"},
        {"reportlab", "pikepdf", "segno", "PIL", "babel"},
    ),
    "files": ({"files", "confined", "errors"}, {"fsspec", "numpy", "trimesh"}),
    "mail": ({"mail", "errors"}, {"cryptography"}),
    "webhooks": ({"webhooks", "errors"}, set()),
    "models": ({"models", "mail", "units", "unit_choices", "errors"}, {"sqlalchemy"}),
    "tamper_evidence": ({"tamper_evidence", "models"}, {"sqlalchemy"}),
    "services": (
        {"services", "models", "tamper_evidence", "calc", "testfile", "camfile", "documents",
         "attached", "files", "mail", "webhooks",
         "units", "unit_choices", "errors", "resources", "spreadsheet", "claims", "sentences",
         "set_up_words"},
        {"sqlalchemy", "rapidfuzz", "stdnum", "werkzeug", "zxcvbn"},
    ),
    "signing": ({"signing", "errors"}, {"asn1crypto", "cryptography", "pikepdf", "pyhanko",
                "pyhanko_certvalidator"}),
    "issuing": (
        {"issuing", "services", "papers", "documents", "models", "files", "errors"},
        {"sqlalchemy"},
    ),
}  # fmt: skip


@cache
def imports(path: Path) -> tuple[str, ...]:
    """Every module a file imports, wherever in it, by its full name."""
    return tuple(_imports(path))


def _imports(path: Path) -> Iterator[str]:
    package = (OURS, *path.relative_to(ROOT).parts[:-1])
    for node in nodes(path):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else ()
            module = ".".join((*base, *([node.module] if node.module else [])))
            yield module
            yield from (f"{module}.{alias.name}" for alias in node.names)


def parts(path: Path) -> set[str]:
    """Parts of ours a file imports, as "calc"."""
    top = {path.stem for path in ROOT.iterdir() if path.suffix == ".py" or path.is_dir()}
    names = {name.split(".")[1] for name in imports(path) if name.startswith(f"{OURS}.")}
    return names & top


def libraries(path: Path) -> set[str]:
    """Libraries that are neither ours nor Python's."""
    names = {name.split(".")[0] for name in imports(path)}
    return names - set(sys.stdlib_module_names) - {OURS, "__future__"}


def files_of(part: str) -> list[Path]:
    single = ROOT / f"{part}.py"
    return [single] if single.exists() else sorted((ROOT / part).rglob("*.py"))


def test_the_rules_are_of_parts_that_exist() -> None:
    assert all(files_of(part) for part in ALLOWED)


@pytest.mark.parametrize("part", ALLOWED)
def test_a_part_knows_only_what_lies_below_it(part: str) -> None:
    ours, others = ALLOWED[part]
    for path in files_of(part):
        # Every layer asks for its texts in the language of their reader.
        assert parts(path) <= ours | {part, "texts"}, path
        assert libraries(path) <= others, path


def test_few_modules_below_the_papers_know_reportlab() -> None:
    below = [*files_of("charts"), *files_of("fonts")]
    knowing = {path.relative_to(ROOT).as_posix() for path in below if "reportlab" in
               libraries(path)}  # fmt: skip
    fonts = {f"fonts/{name}.py" for name in ("faces", "family", "writing")}
    assert knowing == {"charts/paper.py"} | fonts


def test_only_users_knows_werkzeug_and_only_its_hashing() -> None:
    for path in files_of("services"):
        names = {name for name in imports(path) if name.startswith("werkzeug")}
        if names:
            assert path.name == "users.py"
            assert all(name.startswith("werkzeug.security") for name in names)


def test_nothing_below_the_web_imports_flask_or_forms() -> None:
    above = {"web", "cli", "__init__.py"}
    for path in FILES:
        if path.relative_to(ROOT).parts[0] not in above:
            assert not {"flask", "wtforms", "flask_wtf"} & libraries(path), path
            assert "web" not in parts(path), path


def test_nouns_of_the_web_do_not_import_each_others_routes() -> None:
    for path in sorted((ROOT / "web").rglob("*.py")):
        inside = path.relative_to(ROOT / "web").parts
        noun = inside[0] if len(inside) > 1 else ""
        for name in imports(path):
            steps = name.split(".")
            if steps[:2] == [OURS, "web"] and len(steps) > 3 and steps[3] == "routes" and noun:
                assert steps[2] == noun, (path, name)


def test_no_module_has_a_name_that_says_nothing() -> None:
    names = {part for path in FILES for part in path.relative_to(ROOT).with_suffix("").parts}
    assert not {"util", "utils", "helper", "helpers", "common", "misc"} & names


def service_packages() -> dict[str, set[str]]:
    """Imports of each package of services, or module beside them, from the others."""
    graph: dict[str, set[str]] = {}
    for path in files_of("services"):
        steps = path.relative_to(ROOT / "services").with_suffix("").parts
        ours = [name for name in imports(path) if name.startswith(f"{OURS}.services.")]
        used = {name.split(".")[2] for name in ours}
        names = {item.stem for item in (ROOT / "services").iterdir()}
        graph.setdefault(steps[0], set()).update((used & names) - {steps[0]})
    return graph


def test_packages_of_services_import_in_one_direction() -> None:
    order = TopologicalSorter(service_packages()).static_order()
    assert "billing" in set(order)


def test_services_know_no_renderer() -> None:
    for path in files_of("services"):
        assert not {name for name in imports(path) if name.startswith("shopflow.papers")}, path
