"""Next acts as pages show them: the button, its address, and who has to act."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from flask import url_for

from shopflow.models import JobState
from shopflow.services.planning import next_act
from shopflow.services.planning.next_act import Act, Party, Verb
from shopflow.texts import lazy
from shopflow.web.auth import signed_in

LABELS = {
    Verb.RECORD_ANSWER: lazy("Record answer"),
    Verb.RECORD_DECISION: lazy("Record decision"),
    Verb.ADD_PLAN: lazy("Add work plan"),
    Verb.WRITE_QUOTE: lazy("Write quote"),
    Verb.REVISE_QUOTE: lazy("Revise quote"),
    Verb.RECORD_APPROVAL: lazy("Record approval"),
    Verb.RECORD_TEST: lazy("Record test result"),
    Verb.MEASURE: lazy("Open sheet"),
    Verb.SIGN_OFF: lazy("Sign off step"),
    Verb.START: lazy("Start step"),
    Verb.MARK_READY: lazy("Mark ready"),
    Verb.ISSUE_INVOICE: lazy("Issue invoice"),
    Verb.RECORD_PAYMENT: lazy("Record payment"),
    Verb.HAND_OVER: lazy("Hand over"),
    Verb.END_HOLD: lazy("End hold"),
}

ENDPOINTS = {
    Verb.RECORD_ANSWER: "questions.answer",
    Verb.RECORD_DECISION: "decisions.decide",
    Verb.ADD_PLAN: "operations.add_routing",
    Verb.WRITE_QUOTE: "quotes.new",
    Verb.REVISE_QUOTE: "quotes.new",
    Verb.RECORD_APPROVAL: "jobs.approve",
    Verb.RECORD_TEST: "integrity_tests.record",
    Verb.MEASURE: "sheets.sheet",
    Verb.SIGN_OFF: "operations.sign_off",
    Verb.START: "operations.start",
    Verb.MARK_READY: "jobs.move",
    Verb.ISSUE_INVOICE: "invoices.issue",
    Verb.RECORD_PAYMENT: "payments.pay",
    Verb.HAND_OVER: "collections.hand_over",
    Verb.END_HOLD: "holds.end",
}
_OF_STEP = {
    *(Verb.RECORD_ANSWER, Verb.RECORD_DECISION, Verb.RECORD_TEST, Verb.SIGN_OFF, Verb.START),
}
_ON_STEP = {Verb.START, Verb.RECORD_TEST, Verb.MEASURE, Verb.SIGN_OFF}
_POSTED = {Verb.START, Verb.MARK_READY, Verb.END_HOLD}


@dataclass(frozen=True, slots=True)
class Button:
    """An act that the user may do, as a button or a link."""

    verb: Verb
    words: str
    subject: str
    """Step or thing that it is about; empty where it is about the job or head as a whole."""

    url: str
    is_post: bool
    fields: dict[str, str]
    """Hidden fields of a button that posts."""

    tag: str


@dataclass(frozen=True, slots=True)
class Next:
    """Next act on a head or job, and the user's own buttons."""

    words: str
    """The act in words; empty where nothing is left to do."""

    subject: str
    party: Party | None
    who: str
    """Names of those who have to act, where they are known."""

    primary: Button | None
    others: list[Button]
    tag: str = ""
    """Label of the head, or of the first of several."""

    @property
    def is_mine(self) -> bool:
        """True where the user's button is the next act itself."""
        return self.primary is not None and self.primary.words == self.words

    @property
    def does(self) -> str:
        """Verb of the user's button; empty where they have none."""
        return self.primary.verb.value if self.primary else ""

    @property
    def is_on_step(self) -> bool:
        """True where the user's button is about the step itself, and stands beside it."""
        return self.primary is not None and self.primary.verb in _ON_STEP


def of_head(acts: Sequence[Act], customer: str = "", workers: Iterable[str] = ()) -> Next:
    """The next act on a head with these acts, and the buttons of the user signed in."""
    return of_heads([acts], customer, workers)


def of_heads(
    heads: Iterable[Sequence[Act]], customer: str = "", workers: Iterable[str] = ()
) -> Next:
    """The next act on a job with these heads, and the buttons of the user signed in."""
    heads = list(heads)
    role = signed_in().role
    first, mine = next_act.of_job(heads), next_act.of_job(heads, role)
    buttons = _distinct(act for acts in heads for act in acts if act.is_open_to(role))
    others = [act for act in buttons if mine is None or _address(act) != _address(mine)]
    return Next(
        words=str(LABELS[first.verb]) if first else "",
        subject=first.subject if first else "",
        party=first.party if first else None,
        who=_who(first, customer, workers),
        primary=button(mine) if mine else None,
        others=[button(act) for act in others],
        tag=next((act.tag for acts in heads for act in acts), ""),
    )


def button(act: Act) -> Button:
    """The button of an act."""
    is_post = act.verb in _POSTED
    fields = {}
    if act.verb is Verb.MARK_READY:
        fields = {"state": JobState.READY.value, "version": str(act.version)}
    url = url_for(ENDPOINTS[act.verb], **_target(act))
    return Button(act.verb, str(LABELS[act.verb]), act.subject, url, is_post, fields, act.tag)


def _target(act: Act) -> dict[str, Any]:
    if act.verb in _OF_STEP:
        return {"operation_id": act.key}
    if act.verb is Verb.MEASURE:
        return {"tag": act.tag, "operation": act.key}
    if act.verb is Verb.ADD_PLAN:
        return {"tag": act.tag}
    return {"wait_id": act.key} if act.verb is Verb.END_HOLD else {"number": act.job}


def _who(act: Act | None, customer: str, workers: Iterable[str]) -> str:
    if act is None:
        return ""
    if act.party is Party.CUSTOMER:
        return customer
    return ", ".join(workers) if act.party is Party.WORKSHOP else ""


def _distinct(acts: Iterable[Act]) -> list[Act]:
    """Acts without those that lead to the same page: an act on the job is one for all its heads."""
    return list({_address(act): act for act in acts}.values())


def _address(act: Act) -> tuple[object, ...]:
    """An act and the page it leads to."""
    return act.verb, act.key or act.job, act.verb is Verb.ADD_PLAN and act.tag
