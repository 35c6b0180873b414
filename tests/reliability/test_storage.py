"""Files in S3-like storage, on the server of moto: S3 over HTTP, kept in memory."""

from __future__ import annotations

import urllib.request
from collections.abc import Iterator
from pathlib import Path

import boto3
import pytest
from moto.server import ThreadedMotoServer

from shopflow.errors import NotFoundError, StorageError
from shopflow.files import FileStore, SharedStore
from tests.reliability.conftest import ShopCopy
from tests.reliability.serving import Answer, serving
from tests.reliability.test_outages import A_TEXT, assert_put_off
from tests.smtp import free_port
from tests.unit.files.test_store import ABC

URL = "s3://shop-files/records"
AWAY = "File storage unavailable"


class Storage:
    """A server of storage with one bucket."""

    def __init__(self) -> None:
        self.port = free_port()
        self.address = f"http://127.0.0.1:{self.port}"
        self.start()

    def start(self) -> None:
        """Begin to answer; what it kept before is there."""
        self._server = ThreadedMotoServer("127.0.0.1", self.port, verbose=False)
        self._server.start()

    def stop(self) -> None:
        """Answer no more."""
        self._server.stop()

    def believe(self, anyone: bool) -> None:
        """Take any credentials, or only those of its accounts, of which it has none."""
        count = b"inf" if anyone else b"0"
        plain = {"Content-Type": "text/plain"}
        urllib.request.urlopen(
            urllib.request.Request(f"{self.address}/moto-api/reset-auth", count, plain)
        ).close()

    def buckets(self) -> list[str]:
        """Names of the buckets there are."""
        return [bucket["Name"] for bucket in boto3.client("s3").list_buckets()["Buckets"]]


@pytest.fixture
def storage(monkeypatch: pytest.MonkeyPatch) -> Iterator[Storage]:
    """A server with an empty bucket, which this process and those it starts will ask."""
    new_storage = Storage()
    for name, value in {
        "AWS_ENDPOINT_URL": new_storage.address,
        "AWS_ACCESS_KEY_ID": "someone",
        "AWS_SECRET_ACCESS_KEY": "a secret",
        "AWS_DEFAULT_REGION": "us-east-1",
        "AWS_MAX_ATTEMPTS": "1",
        "SHOPFLOW_FILES_URL": URL,
    }.items():
        monkeypatch.setenv(name, value)
    boto3.client("s3").create_bucket(Bucket="shop-files")
    yield new_storage
    new_storage.believe(anyone=True)
    new_storage.stop()


def test_what_one_machine_keeps_another_reads(storage: Storage, tmp_path: Path):
    item, other = SharedStore(tmp_path / "one", URL), SharedStore(tmp_path / "other", URL)
    assert item.put(b"abc") == item.put(b"abc") == ABC
    assert other.get(ABC) == b"abc"
    assert FileStore(tmp_path / "other").get(ABC) == b"abc"
    with pytest.raises(NotFoundError, match="missing from the shop's storage"):
        other.get("0" * 64)


def test_a_bucket_misspelt_is_not_made(storage: Storage, tmp_path: Path):
    with pytest.raises(StorageError, match="s3://shop-fils/records"):
        SharedStore(tmp_path, "s3://shop-fils/records").put(b"abc")
    assert storage.buckets() == ["shop-files"]


@pytest.mark.slow
def test_storage_that_refuses_or_is_gone_is_said_and_found_again(
    in_sqlite: ShopCopy, storage: Storage
):
    job = in_sqlite.tags(1)[0].rpartition("-")[0]
    with serving(in_sqlite.folder) as server:
        someone = in_sqlite.someone(server)

        def upload(name: str) -> Answer:
            content = name.encode() + A_TEXT
            return someone.upload(f"/jobs/{job}/files/add", content, f"{name}.txt")

        assert upload("first").status == 302
        storage.believe(anyone=False)
        assert_put_off(upload("refused"), AWAY)
        storage.believe(anyone=True)
        storage.stop()
        assert_put_off(upload("gone"), AWAY)
        page = someone.get(f"/jobs/{job}")
        storage.start()
        assert upload("gone").status == 302
    assert "first.txt" in page.text
    assert not any(name in page.text for name in ("refused.txt", "gone.txt"))
