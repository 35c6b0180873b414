"""Results of a certificate that cannot be as they stand: once a test, to be answered in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from hashlib import sha256
from zoneinfo import ZoneInfo

from shopflow.documents import FlowCertificate, ResultPoint, SessionResult
from shopflow.errors import FieldError
from shopflow.services import fields
from shopflow.texts import gettext, translated


def of_certificate(content: FlowCertificate) -> list[str]:
    """Doubts about a certificate's tests, each test and kind of doubt once."""
    return [text for test in content.sessions for text in _of_test(test, content)]


def key(doubt: str) -> str:
    """Key of a form's field for the answer to a doubt, and of its error."""
    return f"answer-{sha256(doubt.encode()).hexdigest()[:12]}"


def answered(doubtful: Sequence[str], typed: Mapping[str, str]) -> dict[str, str]:
    """Read the answer to each doubt. Raises ValidationError."""
    keys = {key(doubt): doubt for doubt in doubtful}
    clean = fields.read(
        dict.fromkeys(keys, fields.words()),
        {name: typed.get(doubt, "") for name, doubt in keys.items()},
    )
    return {doubt: clean[name] for name, doubt in keys.items()}


def unanswered(answers: Mapping[str, str]) -> list[FieldError]:
    """A fault at each doubt that nothing is said to."""
    message = gettext("answer this in words: the certificate prints it")
    return [FieldError(key(doubt), message) for doubt, answer in answers.items() if not answer]


def _of_test(test: SessionResult, content: FlowCertificate) -> Iterator[str]:
    name = f"{translated(test.side).capitalize()}, {test.name}"
    yield from (f"{name}: {text}" for text in _coefficients(test, content))
    yield from (f"{name}: {text}" for text in _port_area(test))
    if test.along_port is not None:
        survey = test.along_port.surveys[test.along_port.stands]
        if any(point.choked for point in survey.points):
            yield (
                gettext(
                    "{name}: the flow is more than a section of the port can pass (it would "
                    "be choked). Which is wrong, the section or the flow, or what explains "
                    "it?",
                    name=name,
                )
            )
    zone = ZoneInfo(content.display.time_zone)
    received = content.job.booked_in.astimezone(zone).date()
    if test.measured_at and test.measured_at.astimezone(zone).date() < received:
        tested, booked = map(content.display.moment, (test.measured_at, content.job.booked_in))
        yield gettext(
            "{name}: tested on {tested}, before the head was received on {booked}. Why?",
            name=name,
            tested=tested,
            booked=booked,
        )


def _coefficients(test: SessionResult, content: FlowCertificate) -> Iterator[str]:
    """Lifts at which more flows than the ideal passes, on the smallest area that is known."""
    has_least_areas = all(point.cd_least_area is not None for point in test.points)
    high = [point for point in test.points if _coefficient(point) > 1.0]
    if not high:
        return
    units = content.display.units
    worst = max(high, key=_coefficient)
    lifts = ", ".join(units.number(point.lift, "lift") for point in high)
    numbers = {"lifts": lifts, "unit": units.unit("lift"), "highest": _coefficient(worst)}
    yield (
        gettext(
            "the coefficient on the least valve area is above 1 at lift {lifts} {unit} (highest "
            "{highest:.3f}), and no opening passes more than the ideal. What explains it?",
            **numbers,
        )
        if has_least_areas
        else gettext(
            "the coefficient on the curtain or head area is above 1 at lift {lifts} {unit} "
            "(highest {highest:.3f}), and no opening passes more than the ideal. What explains it?",
            **numbers,
        )
    )


def _port_area(test: SessionResult) -> Iterator[str]:
    """A port that would pass more than the ideal flow of its own area."""
    shares = [
        point.effective_area * point.velocity / point.flow
        for point in test.points
        if point.effective_area is not None and point.velocity and point.flow
    ]
    if shares and max(shares) > 1.0:
        yield (
            gettext(
                "the effective area is {shares:.0f} % of the port area given, and no "
                "section passes more than the ideal. Which is wrong, the area or the "
                "flow?",
                shares=100 * max(shares),
            )
        )


def _coefficient(point: ResultPoint) -> float:
    """On the least area or, where that is not known, on the smaller of curtain and head."""
    if point.cd_least_area is not None:
        return point.cd_least_area
    return max(point.cd_curtain, point.cd_head)
