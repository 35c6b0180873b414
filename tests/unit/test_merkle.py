"""The Merkle tree of the record log against RFC 9162's definition and published values."""

from __future__ import annotations

import hashlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.tamper_evidence.merkle import Tree

ENTRIES = [
    bytes.fromhex(digits)
    for digits in (
        "", "00", "10", "2021", "3031", "40414243", "5051525354555657",
        "606162636465666768696a6b6c6d6e6f",
    )
]  # fmt: skip
ROOTS = [
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
]


def defined_root(entries: list[bytes]) -> bytes:
    """MTH of RFC 9162, 2.1.1, by its recursive definition."""
    if not entries:
        return hashlib.sha256(b"").digest()
    if len(entries) == 1:
        return hashlib.sha256(b"\x00" + entries[0]).digest()
    # The largest power of two smaller than the number of entries.
    half = 1 << (len(entries) - 1).bit_length() - 1
    halves = defined_root(entries[:half]) + defined_root(entries[half:])
    return hashlib.sha256(b"\x01" + halves).digest()


def tree_of(entries: list[bytes]) -> Tree:
    tree = Tree()
    for entry in entries:
        tree.append(entry)
    return tree


@pytest.mark.source("Certificate Transparency, reference test vectors of RFC 6962's tree")
@pytest.mark.parametrize(("size", "root"), list(enumerate(ROOTS, start=1)))
def test_roots_are_the_published_ones(size: int, root: str) -> None:
    assert tree_of(ENTRIES[:size]).root().hex() == root


@pytest.mark.source("RFC 9162, 2.1.1")
@given(st.lists(st.binary(max_size=40), max_size=70))
def test_any_root_is_that_of_the_definition(entries: list[bytes]) -> None:
    tree = tree_of(entries)
    assert tree.root() == defined_root(entries)
    again = Tree.unpacked(tree.size, tree.packed())
    again.append(b"one more")
    assert again.root() == defined_root([*entries, b"one more"])


def test_a_stack_that_belongs_to_no_such_size_is_refused() -> None:
    with pytest.raises(ValueError, match="no stack of a tree of 3"):
        Tree.unpacked(3, b"\x00" * 32)
