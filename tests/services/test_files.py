"""Files of jobs: kept once, told by content, taken off without loss."""

from __future__ import annotations

import pymupdf
import pytest

from shopflow import papers
from shopflow.errors import NotFoundError, RuleError, ValidationError
from shopflow.files import FileStore
from shopflow.services import audit_log
from shopflow.services.registry import attachments
from shopflow.services.registry.attachments import Upload
from shopflow.services.routing import work_orders
from tests import photos
from tests.factories import BY, create_job, create_visit


@pytest.fixture
def store(tmp_path) -> FileStore:
    return FileStore(tmp_path / "files")


def add(db, store, visit, *uploads, job=None, **values):
    return attachments.add(db, BY, store, job or visit.job, visit, uploads, values)


def test_photos_and_documents_are_kept_with_what_is_said_of_them(db, store):
    visit = create_visit(db)
    added = add(
        db,
        store,
        visit,
        Upload("IMG_1.jpg", photos.from_a_telephone()),
        Upload("readings.txt", b"44 mm\n"),
        caption="as it came",
        shown_to_customer=True,
    )
    assert added.refused == ()
    photo, words = added.stored
    assert (photo.is_photo, photo.width, photo.height) == (True, 40, 60)
    assert store.get(photo.sha256).startswith(b"\xff\xd8")
    assert store.get(photo.small_sha256).startswith(b"\xff\xd8")
    assert store.get(photo.original_sha256) == photos.from_a_telephone()
    assert photo.original_size == len(photos.from_a_telephone())
    assert (words.is_photo, words.media_type, words.size) == (False, "text/plain", 6)
    assert store.get(words.sha256) == b"44 mm\n"
    assert attachments.of_stay(db, visit) == attachments.of_job(db, visit.job) == [photo, words]
    assert attachments.of_head(db, visit.head) == [photo, words]
    assert photo.caption == "as it came"
    assert photo.shown_to_customer


def test_one_that_cannot_be_kept_does_not_keep_the_others_out(db, store):
    visit = create_visit(db)
    heic = Upload("IMG_2.HEIC", b"\0\0\0\x18ftypheic" + b"\0" * 100)
    added = add(db, store, visit, Upload("IMG_1.jpg", photos.jpeg()), heic)
    assert [row.name for row in added.stored] == ["IMG_1.jpg"]
    assert added.refused[0].startswith("IMG_2.HEIC: is an HEIC")


def test_where_none_can_be_kept_each_is_said_at_the_field(db, store):
    visit = create_visit(db)
    with pytest.raises(ValidationError) as caught:
        add(db, store, visit, Upload("a.gif", b"GIF89a\0"), Upload("b.png", b""))
    assert [fault.key for fault in caught.value.faults] == ["files", "files"]

    assert attachments.of_job(db, visit.job) == []


def test_nothing_chosen_and_too_many_at_once_are_refused(db, store):
    visit = create_visit(db)
    with pytest.raises(ValidationError, match="choose at least one"):
        add(db, store, visit)
    with pytest.raises(ValidationError, match="at most 20 at once"):
        add(db, store, visit, *[Upload(f"{n}.txt", b"x") for n in range(21)])


def test_a_second_press_of_the_button_keeps_nothing_twice(db, store):
    visit = create_visit(db)
    add(db, store, visit, Upload("a.jpg", photos.jpeg()))
    with pytest.raises(ValidationError, match="is here already"):
        add(db, store, visit, Upload("a.jpg", photos.jpeg()))
    assert len(attachments.of_job(db, visit.job)) == 1


def test_the_same_photo_on_two_jobs_lies_on_the_disk_once(db, store):
    item, other = create_visit(db), create_visit(db)
    for visit in (item, other):
        add(db, store, visit, Upload("a.jpg", photos.jpeg()))
    assert attachments.of_job(db, item.job)[0].sha256 == attachments.of_job(db, other.job)[0].sha256
    # The one made from it, its small form, and the original.
    assert len([path for path in store.folder.rglob("*") if path.is_file()]) == 3


def test_a_head_of_another_job_is_refused(db, store):
    visit, job = create_visit(db), create_job(db)
    with pytest.raises(RuleError, match="is not on job"):
        add(db, store, visit, Upload("a.txt", b"x"), job=job)


@pytest.mark.parametrize(
    ("given", "kept"),
    [
        ("../../etc/passwd", "passwd"),
        ("C:\\Users\\x\\photo.jpg", "photo.jpg"),
        ("a\r\nSet-Cookie: b.txt", "aSet-Cookie: b.txt"),
        ("\u202egpj.exe", "gpj.exe"),
        ("", "file"),
        ("x" * 300, "x" * 120),
    ],
)
def test_a_senders_name_is_kept_plain(db, store, given, kept):
    visit = create_visit(db)
    assert add(db, store, visit, Upload(given, b"words")).stored[0].name == kept


def test_a_file_taken_off_shows_no_more_but_its_bytes_stay(db, store):
    visit = create_visit(db)
    (row,) = add(db, store, visit, Upload("a.txt", b"words")).stored
    attachments.take_off(db, BY, row)
    db.flush()
    assert attachments.of_job(db, visit.job) == attachments.of_head(db, visit.head) == []
    assert store.get(row.sha256) == b"words"
    with pytest.raises(NotFoundError):
        attachments.get(db, row.id)
    # It may be put back by adding it again.
    add(db, store, visit, Upload("a.txt", b"words"))
    rows = [(entry.verb, entry.note) for entry in audit_log.of_job(db, visit.job)]
    assert ("taken off", f"{visit.tag}, a.txt") in rows


def test_caption_and_sight_are_changed_and_logged(db, store):
    visit = create_visit(db)
    (row,) = add(db, store, visit, Upload("a.txt", b"words")).stored
    attachments.change(db, BY, row, {"caption": "new", "shown_to_customer": True})
    (entry,) = [item for item in audit_log.of_job(db, visit.job) if item.verb == "changed"]
    assert entry.changes["shown_to_customer"] == ["False", "True"]


def test_a_heads_photos_stand_on_its_work_order_and_no_others(db, store):
    job = create_job(db, head_count=2)
    item, other = job.heads
    add(db, store, item, Upload("a.jpg", photos.jpeg()), caption="chamber 1")
    add(db, store, other, Upload("b.txt", b"words"))
    first, second = work_orders.work_order(db, job, store).heads
    assert [photo.caption for photo in first.photos] == ["chamber 1"]
    assert photos.opened(first.photos[0].image).size == (60, 40)
    assert second.photos == ()
    assert papers.work_order(work_orders.work_order(db, job, store)).startswith(b"%PDF")


def test_a_work_order_is_printed_though_a_photo_was_lost_from_the_folder(db, store):
    visit = create_visit(db)
    (row,) = add(db, store, visit, Upload("a.jpg", photos.jpeg())).stored
    for path in store.folder.rglob(row.small_sha256):
        path.unlink()
    content = papers.work_order(work_orders.work_order(db, visit.job, store))
    text = "".join(page.get_text() for page in pymupdf.open(stream=content))
    assert "This picture cannot be read." in text
