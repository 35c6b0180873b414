"""Every worked example in the formulas' documentation runs, and every formula has one."""

from __future__ import annotations

import doctest
import importlib
import inspect
import pkgutil
from types import ModuleType

import pytest

import shopflow.calc
from shopflow.charts import ticks

MODULES = [
    importlib.import_module(f"shopflow.calc.{answer.name}")
    for answer in pkgutil.iter_modules(shopflow.calc.__path__)
]
FORMULAS = {"air", "gas", "areas", "flow", "curve", "uncertainty", "springs", "turbo",
            "compression", "machindex", "sections"}  # fmt: skip


@pytest.mark.parametrize("module", [*MODULES, ticks], ids=lambda module: module.__name__)
def test_the_examples_hold(module: ModuleType) -> None:
    assert doctest.testmod(module).failed == 0


@pytest.mark.parametrize(
    "module",
    [module for module in MODULES if module.__name__.rpartition(".")[2] in FORMULAS],
    ids=lambda module: module.__name__,
)
def test_every_public_formula_has_an_example_and_names_its_units(module: ModuleType) -> None:
    for name, function in inspect.getmembers(module, inspect.isfunction):
        if name.startswith("_") or function.__module__ != module.__name__:
            continue
        text = function.__doc__ or ""
        assert ">>>" in text, name
        assert "Parameters" in text, name
        assert "Returns" in text, name
