"""Sealed secrets."""

from __future__ import annotations

import pytest

from shopflow.mail.sealing import Seal, SealError


def test_a_secret_comes_back_and_cannot_be_read_in_between():
    seal = Seal("one key")
    shut = seal.shut("correct horse")
    assert "horse" not in shut
    assert seal.open(shut) == "correct horse"
    assert Seal("one key").open(shut) == "correct horse"
    assert seal.shut("correct horse") != shut


def test_another_key_or_a_changed_seal_opens_nothing():
    shut = Seal("one key").shut("correct horse")
    with pytest.raises(SealError, match="secret key has changed"):
        Seal("another key").open(shut)
    with pytest.raises(SealError):
        Seal("one key").open(shut[:-4] + "AAA=")


def test_nothing_stays_nothing():
    assert Seal("k").shut("") == ""
    assert Seal("k").open("") == ""
