"""Lines of a job as the bench needs them: parts, work done outside, and the rest; no prices."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True)
class PartToFit:
    """A part that a head or the job needs, and where it is."""

    quantity: str
    what: str
    part_number: str = ""
    step: str = ""
    """The step that needs it, where it is said."""

    state: str = ""
    """As "here" or "ordered"; empty where nobody follows it."""

    is_here: bool = False
    is_fitted: bool = False


@dataclass(frozen=True)
class WorkOutside:
    """Work done by a vendor."""

    what: str
    vendor: str = ""
    """Empty until it is sent out."""

    sent_on: date | None = None
    due_on: date | None = None
    back_on: date | None = None


@dataclass(frozen=True)
class BenchLines:
    """Lines of one head, or of the whole job."""

    parts: tuple[PartToFit, ...] = ()
    outside: tuple[WorkOutside, ...] = ()
    others: tuple[str, ...] = ()
    """Freight, fees, discounts and texts."""

    @property
    def is_any(self) -> bool:
        """True where there is a line."""
        return bool(self.parts or self.outside or self.others)


NONE = BenchLines()
