"""Photos and documents in the browser: adding, showing, and what is never shown."""

from __future__ import annotations

import io
import sys
import threading

import pymupdf
import pytest

from shopflow.files import pictures
from shopflow.models import JobFile, Role
from shopflow.web.limits import PHOTOS
from tests import photos
from tests.factories import create_job, create_visit
from tests.web.client import Client, Page

HEIC = b"\0\0\0\x18ftypheic" + b"\0" * 100


@pytest.fixture
def visit(db):
    return create_visit(db)


def send(client: Client, visit, *given, field="files", status=200, **values) -> Page:
    """Fill the form in and send files with it; the page this leads to."""
    page = client.page(f"/jobs/{visit.job.number}/files/add?head={visit.tag}")
    data = {
        "csrf_token": page.form().fields["csrf_token"],
        "of": visit.tag,
        field: [(io.BytesIO(content), name) for name, content in given],
        **values,
    }
    address = f"/jobs/{visit.job.number}/files/add"
    return client._page(client.post(address, data=data, content_type="multipart/form-data"), status)


def test_the_form_suits_a_telephone(client, visit):
    page = client.page(f"/jobs/{visit.job.number}/files/add?head={visit.tag}")
    camera = page.tree.xpath("//input[@name='camera']")[0]
    assert (camera.get("type"), camera.get("accept")) == ("file", "image/*")
    assert camera.get("capture") is not None
    chosen = page.tree.xpath("//input[@name='files']")[0]
    assert chosen.get("multiple") is not None
    assert page.value("of") == visit.tag
    assert page.form().get("enctype") == "multipart/form-data"


def test_several_at_once_stand_on_the_heads_and_the_jobs_page(client, db, visit):
    page = send(
        client,
        visit,
        ("a.jpg", photos.from_a_telephone()),
        ("b.png", photos.encoded(photos.picture(), "PNG")),
        ("c.txt", b"44 mm\n"),
        caption="chamber 2",
        shown_to_customer="y",
    )
    assert page.heading == visit.tag
    assert page.notices == ["3 files added."]
    pictures = page.tree.xpath("//main//img/@src")
    assert len(pictures) == 2
    assert "shown to customer" in page.text
    for address in (f"/jobs/{visit.job.number}", f"/heads/{visit.head_id}"):
        assert client.page(address).tree.xpath("//main//img/@src") == pictures
    small = client.get(pictures[0])
    assert (small.mimetype, small.headers["X-Content-Type-Options"]) == ("image/jpeg", "nosniff")
    assert photos.opened(small.data).size == (40, 60)
    answer = client.get(pictures[0].removesuffix("/small"))
    assert not photos.opened(answer.data).getexif()


def test_the_original_of_a_photo_is_for_signed_in_staff_alone(
    client, stranger, signed_in, db, visit
):
    values = photos.from_a_telephone()
    page = send(client, visit, ("IMG_1.jpg", values), shown_to_customer="y")
    (row,) = db.query(JobFile)
    assert f"/files/{row.id}/original" in page.links.values()
    for role in (Role.OWNER, Role.COUNTER, Role.MACHINIST):
        answer = signed_in(role).get(f"/files/{row.id}/original")
        assert answer.data == values
        assert "IMG_1.jpg" in answer.headers["Content-Disposition"]
        assert answer.headers["Content-Disposition"].startswith("attachment;")
    assert signed_in(Role.READER).get(f"/files/{row.id}/original").status_code == 403
    assert stranger.get(f"/files/{row.id}/original").status_code == 302
    # What all others are shown is made from it, without the place or the camera.
    assert b"secret words" not in client.get(f"/files/{row.id}").data


def test_a_document_has_no_original(client, db, visit):
    send(client, visit, ("a.txt", b"44 mm\n"))
    (row,) = db.query(JobFile)
    assert client.get(f"/files/{row.id}/original").status_code == 404


def working_on_a_picture(thread: threading.Thread) -> bool:
    """Tell whether a thread has come as far as the work on a picture."""
    frame = sys._current_frames().get(thread.ident or 0)
    while frame is not None:
        if frame.f_code is pictures.fit.__code__:
            return True
        frame = frame.f_back
    return False


@pytest.mark.parametrize("door", ["files", "booking"])
def test_others_save_while_photos_are_worked_on(web_app, client, signed_in, db, visit, door):
    """The upload is held in the middle of its first picture, by the lock that pictures take."""
    address = "/jobs/new" if door == "booking" else f"/jobs/{visit.job.number}/files/add"
    form = dict(client.page(address).form().form_values())
    name = "heads-0-photos-chosen" if door == "booking" else "files"
    data = {**form, name: [(io.BytesIO(photos.jpeg()), "a.jpg")]}
    other = signed_in(Role.COUNTER)
    page = other.page("/customers/new")
    answers = []

    def upload() -> None:
        answers.append(
            client.post(address, data=data, content_type="multipart/form-data").status_code
        )

    thread = threading.Thread(target=upload)
    with pictures._one_at_a_time:
        thread.start()
        while not working_on_a_picture(thread):
            assert thread.is_alive(), answers
        assert other.submit(page, {"name": "Orla Finch"}).heading == "Orla Finch"
        assert not answers
    thread.join()
    assert answers[0] in (302, 422)


def test_a_photo_straight_from_the_camera_is_kept(client, db, visit):
    assert send(client, visit, ("image.jpg", photos.jpeg()), field="camera").notices == [
        "1 file added."
    ]


def test_a_document_is_only_ever_saved_never_opened_here(client, db, visit):
    hostile = b"<html><script>alert(1)</script></html>"
    send(client, visit, ('x".html', hostile))
    (row,) = db.query(JobFile)
    answer = client.get(f"/files/{row.id}")
    assert answer.data == hostile
    assert answer.mimetype == "text/plain"
    assert answer.headers["Content-Disposition"].startswith("attachment;")
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    policy = answer.headers["Content-Security-Policy"].split("; ")
    assert policy == ["default-src 'none'", "base-uri 'none'", "frame-ancestors 'none'", "sandbox"]
    assert client.get(f"/files/{row.id}/small").status_code == 404


def test_a_refused_file_leaves_everything_else_typed(client, db, visit):
    page = send(
        client, visit, ("IMG_1.HEIC", HEIC), status=422, caption="chamber 2", shown_to_customer="y"
    )
    assert "IMG_1.HEIC: is an HEIC" in page.fault("files")
    assert "most compatible format (JPEG)" in page.fault("files")
    assert page.value("caption") == "chamber 2"
    assert page.value("of") == visit.tag
    assert page.tree.xpath("//input[@name='shown_to_customer']/@checked")
    assert db.query(JobFile).count() == 0


def test_one_refused_among_others_is_said_and_the_others_are_kept(client, db, visit):
    page = send(client, visit, ("a.jpg", photos.jpeg()), ("IMG_1.HEIC", HEIC))
    assert page.notices[0] == "1 file added."
    assert page.notices[1].startswith("Not saved: IMG_1.HEIC: is an HEIC")


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        pytest.param("b.png", photos.png_that_claims(60_000, 60_000), "million pixels", id="bomb"),
        pytest.param("cut.jpg", photos.jpeg(800, 600)[:900], "cut off", id="cut off"),
        pytest.param("program.jpg", b"MZ\x90\0\0\0", "cannot be added", id="program"),
        pytest.param("empty.jpg", b"", "empty", id="empty"),
    ],
)
def test_what_is_not_fit_is_refused_in_words(client, visit, name, content, words):
    assert words in send(client, visit, (name, content), status=422).fault("files")


def test_nothing_chosen_is_said_at_the_field(client, visit):
    page = send(client, visit, status=422, caption="still here")
    assert page.fault("files") == "No file chosen: choose at least one photo or document"
    assert page.value("caption") == "still here"


def test_more_than_a_request_may_hold_is_refused_before_it_is_read(client, visit):
    page = client.page(f"/jobs/{visit.job.number}/files/add")
    token = page.form().fields["csrf_token"]
    answer = client.post(
        f"/jobs/{visit.job.number}/files/add",
        data={"csrf_token": token},
        environ_overrides={"CONTENT_LENGTH": str(PHOTOS + 1)},
    )
    assert answer.status_code == 413
    assert "what you typed is still filled in" in answer.text


def test_photos_may_be_larger_than_other_requests_and_only_they(client, db, visit):
    assert send(client, visit, ("long.txt", b"x" * 9_000_000)).notices == ["1 file added."]
    page = client.page(f"/heads/{visit.tag}/condition")
    data = {"csrf_token": page.form().fields["csrf_token"], "condition": "x" * 9_000_000}
    assert client.post(f"/heads/{visit.tag}/condition", data=data).status_code == 413


def test_a_caption_is_changed_and_a_file_taken_off(client, db, visit):
    send(client, visit, ("a.jpg", photos.jpeg()))
    (row,) = db.query(JobFile)
    page = client.submit(f"/files/{row.id}/change", {"caption": "deck", "shown_to_customer": "y"})
    assert page.notices == ["The file is saved."]
    assert "deck" in page.text
    page = client.press(f"/files/{row.id}/change", "Remove file")
    assert page.notices == ["'deck' was removed."]
    assert "No photos or documents yet." in page.text
    assert client.get(f"/files/{row.id}").status_code == 404


def test_the_second_of_two_who_change_a_caption_is_told(client, db, visit):
    send(client, visit, ("a.jpg", photos.jpeg()))
    (row,) = db.query(JobFile)
    mine, theirs = (client.page(f"/files/{row.id}/change") for _ in range(2))
    client.submit(theirs, {"caption": "theirs"})
    page = client.submit(mine, {"caption": "mine"}, status=422)
    assert "someone else changed this" in page.alerts.lower()


def test_a_readers_page_has_the_photos_and_no_way_to_add(signed_in, client, db, visit):
    send(client, visit, ("a.jpg", photos.jpeg()))
    page = signed_in(Role.READER).page(f"/heads/{visit.tag}")
    assert page.tree.xpath("//main//img")
    assert "Add files" not in page.links


def test_a_head_of_another_job_cannot_be_named(client, db, visit):
    other = create_job(db).heads[0]
    page = send(client, visit, ("a.jpg", photos.jpeg()), status=422, of=other.tag)
    assert page.fault("of")
    assert db.query(JobFile).count() == 0


def test_photos_are_printed_on_the_work_order(client, visit):
    send(client, visit, ("a.jpg", photos.jpeg()), caption="crack by seat 2")
    answer = client.get(f"/papers/work-order/{visit.job.number}.pdf")
    with pymupdf.open(stream=answer.data) as pdf:
        assert "crack by seat 2" in "".join(page.get_text() for page in pdf)
        assert any(page.get_images() for page in pdf)
