"""A browser without a screen: gets pages, checks each, and fills in forms as it finds them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from flask import Flask
from flask.testing import FlaskClient
from lxml import html as lxml_html
from werkzeug.test import TestResponse

from shopflow.models import User
from shopflow.services.accounts import login_sessions
from shopflow.services.actor import Actor
from tests.web.checking import faults_of

APART = {
    *("br", "caption", "dd", "div", "dt", "h1", "h2", "h3", "label", "legend", "li", "option", "p"),
    *("td", "th", "tr"),
}
"""Elements that start a line, or stand beside the one before."""


class Page:
    """A page as a reader finds it."""

    def __init__(self, response: TestResponse) -> None:
        self.response = response
        self.status = response.status_code
        self.path = response.request.full_path.rstrip("?")
        self.tree = lxml_html.fromstring(response.text)

    @property
    def title(self) -> str:
        """Its title."""
        return str(self.tree.findtext(".//title"))

    @property
    def heading(self) -> str:
        """Its h1."""
        return words(self.tree.find(".//h1"))

    @property
    def text(self) -> str:
        """All words of its main part, each run of white space as one space."""
        return words(self.tree.find(".//main"))

    @property
    def links(self) -> dict[str, str]:
        """Addresses of the links in its main part, by their words."""
        return {words(link): link.get("href") for link in self.tree.findall(".//main//a")}

    @property
    def rows(self) -> list[list[str]]:
        """Cells of every table row but the headings."""
        return [[words(cell) for cell in row] for row in self.tree.findall(".//tbody/tr")]

    @property
    def notices(self) -> list[str]:
        """Messages on the page about the act before."""
        return [words(item) for item in self.tree.xpath("//*[@role='status']")]

    @property
    def alerts(self) -> str:
        """Errors of the form as a whole, at its top."""
        return " ".join(words(item) for item in self.tree.xpath("//*[@role='alert']"))

    def fault(self, name: str) -> str:
        """Error at the field of this name; empty where there is none."""
        field = self._field(name)
        notes = (field.get("aria-describedby") or "").split()
        matches = [self.tree.get_element_by_id(note) for note in notes if note.endswith("-fault")]
        assert bool(matches) == (field.get("aria-invalid") == "true")
        return " ".join(words(note) for note in matches).removeprefix("Error: ")

    def value(self, name: str) -> str | None:
        """Value of the field of this name."""
        value = self._field(name).value
        return value.strip("\n") if isinstance(value, str) else value

    def form(self, action: str | None = None) -> Any:
        """The form of the main part with this action; the first that posts, where none is named."""
        forms = [form for form in self.tree.findall(".//main//form") if form.method == "POST"]
        if action is not None:
            forms = [form for form in forms if (form.get("action") or "") == action]
        assert forms, f"no such form on {self.path}"
        # lxml would send "on" for a chosen radio button whose value is empty.
        for chosen in forms[0].xpath(".//input[@type='radio'][@value=''][@checked]"):
            del chosen.attrib["checked"]
        return forms[0]

    def _field(self, name: str) -> Any:
        answer = self.tree.xpath("//main//*[@name=$name]", name=name)
        assert answer, f"no field {name} on {self.path}"
        return answer[0]


class Client(FlaskClient):
    """Flask's test client, checking every page it gets."""

    release_writes: Callable[[], None] | None = None
    """Called before every request: what the test made itself must be on file by then."""

    def open(self, *args: Any, **kwargs: Any) -> TestResponse:
        """As Flask's; a page that is not as it must be fails the test."""
        if self.release_writes is not None:
            self.release_writes()
        response = super().open(*args, **kwargs)
        page = response.mimetype == "text/html" and response.request.method != "HEAD"
        # A page to save is none of the site's: it stands alone, with script and style in it.
        page = page and not response.headers.get("Content-Disposition", "").startswith("attach")
        if page and response.status_code not in range(300, 400):
            faults = faults_of(response.text)
            assert not faults, f"{response.request.path}: {faults}"
            assert "script-src" not in response.headers["Content-Security-Policy"]
        return response

    def sign_in(self, person: User) -> None:
        """Be this person from now on."""
        if self.release_writes is not None:
            self.release_writes()
        with self.application.extensions["shopflow.writing"].begin() as db:
            owned = db.merge(person, load=False)
            _, token = login_sessions.begin(db, owned, Actor.now(None).at, "127.0.0.1", "a test")
        with self.session_transaction() as session:
            session["login"] = token

    def page(self, address: str, status: int = 200) -> Page:
        """The page at an address."""
        return self._page(self.get(address), status)

    def submit(
        self,
        page: Page | str,
        values: Mapping[str, Any] | None = None,
        *,
        action: str | None = None,
        status: int = 200,
    ) -> Page:
        """Fill a page's form in and send it; the page this leads to.

        Fields not named keep what the page had in them, as in a browser; a list ticks several.
        """
        if isinstance(page, str):
            page = self.page(page)
        form = page.form(action)
        fields = {**_typed(form), **(values or {})}
        unknown = set(fields) - {field.name for field in form.inputs}
        assert not unknown, f"{page.path} has no field {unknown}"
        sent = {name: value for name, value in fields.items() if value is not None}
        return self._page(self.post(form.get("action") or page.path, data=sent), status)

    def press(self, page: Page | str, button: str, status: int = 200) -> Page:
        """Press a form's button by its words, with what the form has in it."""
        if isinstance(page, str):
            page = self.page(page)
        matches = [item for item in page.tree.findall(".//form//button") if words(item) == button]
        assert matches, f"no button '{button}' on {page.path}"
        form = next(matches[0].iterancestors("form"))
        data = _typed(form)
        if matches[0].get("name"):
            data[matches[0].get("name")] = matches[0].get("value") or ""
        return self._page(self.post(form.get("action") or page.path, data=data), status)

    def _page(self, response: TestResponse, status: int) -> Page:
        while response.status_code in (301, 302, 303):
            response = self.get(response.headers["Location"])
        assert response.status_code == status, f"{response.status}\n{response.text[-3000:]}"
        return Page(response)


def client_of(app: Flask, *, use_cookies: bool = True) -> Client:
    """A client of an app that was given this class of clients."""
    client = app.test_client(use_cookies=use_cookies)
    assert isinstance(client, Client), "the app has clients of another class"
    return client


def words(element: Any) -> str:
    """The words in an element as they are read: what stands apart is apart, white space is one."""
    return "" if element is None else " ".join("".join(_pieces(element)).split())


def _pieces(element: Any) -> Iterator[str]:
    apart = " " if element.tag in APART else ""
    yield f"{apart}{element.text or ''}"
    for child in element:
        if isinstance(child.tag, str):
            yield from _pieces(child)
        yield child.tail or ""
    yield apart


def _typed(form: Any) -> dict[str, Any]:
    """Values of a form; several boxes ticked under one name are a list."""
    typed: dict[str, Any] = {}
    for name, value in form.form_values():
        # A text area's first line break is the page's own, not the typist's.
        rows = value.removeprefix("\n") if isinstance(value, str) else value
        if name in typed:
            before = typed[name]
            rows = [*(before if isinstance(before, list) else [before]), rows]
        typed[name] = rows
    return typed
