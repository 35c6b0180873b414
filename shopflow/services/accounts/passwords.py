"""Rules for passwords after NIST SP 800-63B: long, and hard to guess.

Any letters are allowed, none are required, and no password expires.
"""

from __future__ import annotations

from collections.abc import Iterable

from shopflow.errors import FieldError
from shopflow.texts import gettext, lazy

SHORTEST = 10
LONGEST = 256
"""Letters; hashing a longer one would be work that anyone could ask for."""

ADVICE = lazy(
    "At least {shortest} characters. A few words that do not belong together are good.",
    shortest=SHORTEST,
)

LEAST_GUESSES = 10**8
"""Tries that anyone who knows the common passwords, words, names and patterns must need."""

_JUDGED = 72
"""Letters that are judged: a good beginning is enough, and judging costs more by the letter."""

_CONTEXT = ("shopflow", "cylinder", "cylinderhead", "flowbench", "porting", "machinist", "workshop")
"""Words that lie near to anyone in the trade."""


def faults_of(password: str, context: Iterable[str] = ()) -> list[FieldError]:
    """List the faults of a new password; `context` are words one would try for its owner."""
    if len(password) < SHORTEST:
        return [
            FieldError(
                "password",
                gettext("too short: enter at least {shortest} characters", shortest=SHORTEST),
            )
        ]
    if len(password) > LONGEST:
        return [
            FieldError(
                "password", gettext("too long: enter at most {longest} characters", longest=LONGEST)
            )
        ]
    if _guesses(password, context) < LEAST_GUESSES:
        return [
            FieldError(
                "password",
                gettext(
                    "too easy to guess: it is a common password, or made of common words, names "
                    "or rows of keys. A few words that do not belong together are good"
                ),
            )
        ]
    return []


def _guesses(password: str, context: Iterable[str]) -> float:
    # Its dictionaries take a moment to load, and only a new password needs them.
    from zxcvbn import zxcvbn

    words = [part for name in (*_CONTEXT, *context) for part in (name, *name.split()) if part]
    return float(zxcvbn(password[:_JUDGED], user_inputs=words)["guesses"])
