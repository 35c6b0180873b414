"""Every paper that is tested, made once."""

from __future__ import annotations

from collections.abc import Iterator

import pymupdf
import pytest

from tests.pdf.cases import CASES


@pytest.fixture(scope="session")
def printed() -> dict[str, bytes]:
    """Papers made so far, by the name of their case."""
    return {}


@pytest.fixture(params=CASES, ids=str)
def case(request: pytest.FixtureRequest) -> str:
    """The name of each paper in turn."""
    name: str = request.param
    return name


@pytest.fixture
def content(case: str, printed: dict[str, bytes]) -> bytes:
    """The paper's bytes."""
    if case not in printed:
        printed[case] = CASES[case]()
    return printed[case]


@pytest.fixture
def pdf(content: bytes) -> Iterator[pymupdf.Document]:
    """The paper, opened."""
    with pymupdf.open(stream=content) as document:
        yield document
