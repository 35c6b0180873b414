"""Templates are compiled once for all processes, and anew where anything they rest on changed."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from jinja2 import DictLoader, Environment

from shopflow.web.compiled import CompiledTemplates


def environment(folder: Path, source: str = "{{ 1 + 2 }}", **settings: Any) -> Environment:
    """A new process's environment, with one template."""
    new_environment = Environment(loader=DictLoader({"page.html": source}), **settings)
    new_environment.bytecode_cache = CompiledTemplates(new_environment, folder)
    return new_environment


@pytest.fixture
def compilations(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Names of the templates compiled from now on, in a process that may write them."""
    monkeypatch.setattr("sys.dont_write_bytecode", False)
    names: list[str] = []
    compile_ = Environment.compile

    def noted(self: Environment, source: Any, name: str, *rest: Any, **more: Any) -> Any:
        names.append(name)
        return compile_(self, source, name, *rest, **more)

    monkeypatch.setattr(Environment, "compile", noted)
    return names


def rendered(environment: Environment) -> str:
    return environment.get_template("page.html").render()


def test_a_template_is_compiled_by_the_first_process_alone(tmp_path, compilations):
    assert [rendered(environment(tmp_path)) for _ in range(3)] == ["3", "3", "3"]
    assert compilations == ["page.html"]


def test_a_changed_source_or_setting_is_compiled_again(tmp_path, compilations):
    rendered(environment(tmp_path))
    assert rendered(environment(tmp_path, "{{ 1 + 3 }}")) == "4"
    assert rendered(environment(tmp_path, "{% if 1 %}\n5{% endif %}")) == "\n5"
    assert rendered(environment(tmp_path, "{% if 1 %}\n5{% endif %}", trim_blocks=True)) == "5"
    assert len(compilations) == 4


@pytest.mark.parametrize("spoil", [lambda code: code[:-1], lambda code: code[:40], lambda _: b""])
def test_a_spoilt_file_is_compiled_again(tmp_path, compilations, spoil):
    rendered(environment(tmp_path))
    (file,) = tmp_path.iterdir()
    file.write_bytes(spoil(file.read_bytes()))
    assert rendered(environment(tmp_path)) == "3"
    assert len(compilations) == 2


def test_a_folder_that_cannot_be_written_to_stops_no_page(tmp_path, compilations):
    (tmp_path / "file").touch()
    assert rendered(environment(tmp_path / "file")) == "3"


def test_nothing_is_written_where_python_writes_nothing(tmp_path, compilations, monkeypatch):
    monkeypatch.setattr("sys.dont_write_bytecode", True)
    assert rendered(environment(tmp_path)) == "3"
    assert list(tmp_path.iterdir()) == []
