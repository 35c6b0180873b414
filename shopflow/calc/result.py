"""A result of a flow test: its name, formula, source and uncertainty, and where it is shown."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from shopflow.calc import margins
from shopflow.calc.area_errors import AreaErrors
from shopflow.calc.array_types import Array, Floats
from shopflow.calc.reduction import Reduction


class Table(StrEnum):
    """The table of a test's results that a result has a column in."""

    FLOWS = "flows"
    COEFFICIENTS = "coefficients"


@dataclass(frozen=True, kw_only=True)
class Result:
    """One result of a flow test at a lift."""

    key: str
    """Its name in JSON, in documents and in addresses."""

    symbol: str
    name: str
    formula: str
    source: str
    kind: str = ""
    """Of `units.UnitSystem`; empty for a bare number."""

    values: Callable[[Reduction], Array | None] | None = None
    """Over the lifts, SI; None for the attribute of a Reduction that has its key."""

    type: type = float
    is_in_json: bool = True
    needs: str = ""
    """Input that a test must state for it; without it there is none."""

    errors: Callable[[Reduction], AreaErrors] | None = None
    """The errors behind it; None where no uncertainty is given for it."""

    numbers: Callable[[Reduction, int], str] | None = None
    """Its working: the formula with the numbers of one lift put in."""

    table: Table | None = None
    column: str = ""
    """Heading of its column, in which {tested} and {reference} are the test's pressures."""

    has_margin_column: bool = True
    """True where its uncertainty has a column beside it."""

    short: tuple[str, str] = ("", "")
    """Heading of a narrow column, and a second line where it is a bare number."""

    plot: str = ""
    """The word that an address asks for its chart with; empty where it is not drawn."""

    label: str = ""
    """Name of its axis on a chart."""

    note: str = ""
    """The method note that explains it with others; empty for one of its own, of these two:"""

    means: str = ""
    limits: str = ""

    @property
    def anchor(self) -> str:
        """Anchor of its working on a page."""
        return self.key.replace("_", "-")

    def of(self, reduction: Reduction) -> Array | None:
        """The result over a test's lifts, SI; None where the test does not give it."""
        return getattr(reduction, self.key) if self.values is None else self.values(reduction)

    def expanded(self, reduction: Reduction) -> Floats | None:
        """Its expanded uncertainty for 95 % over the lifts, SI; None where it is not stated."""
        if self.errors is None:
            return None
        return margins.expanded(self.errors(reduction), self.of(reduction))
