"""Results of a swirl test by lift, one row each: its name, formula, source and uncertainty."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from shopflow.calc.array_types import Floats
from shopflow.calc.results import HEYWOOD
from shopflow.calc.swirl import SwirlTest
from shopflow.texts import lazy

HEIM = lazy("Heim and Ghandhi, Proc. IMechE D 225 (2011) 1067, abstract")
STONE = lazy("Stone and Ladommatos, SAE 920642 (1992), from memory")


@dataclass(frozen=True, kw_only=True)
class SwirlResult:
    """One result of a swirl test at a lift."""

    key: str
    symbol: str
    name: str
    formula: str
    source: str
    values: Callable[[SwirlTest], Floats | None]
    """Over the lifts, SI; None where the test does not give it."""

    kind: str = ""
    """Of `units.UnitSystem`; empty for a bare number or one in the meter's unit."""

    decimals: int = 3
    """Of a bare number."""

    scale: float = 1.0
    unit: str = ""
    """Unit of a number of no kind, and what SI is multiplied by."""

    si_unit: str = r"\one"
    """In the notation of D-SI."""

    expanded: Callable[[SwirlTest], Floats | None] = lambda _: None
    """For 95 %; None where it is not stated."""


LIFT = SwirlResult(
    key="lift",
    symbol="L",
    name=lazy("Lift"),
    formula=lazy("as set"),
    source=lazy("the test"),
    kind="lift",
    si_unit=r"\metre",
    values=lambda test: test.lifts,
)
DISCHARGE = SwirlResult(
    key="cd_head",
    symbol="Cd",
    name=lazy("Discharge coefficient on the head area"),
    formula=lazy("effective area by the flow test ÷ area of the valve heads"),
    source=lazy("{heywood}, section 6.3", heywood=HEYWOOD),
    values=lambda test: test.discharge_coefficients,
)
MOMENTUM_FLUX = SwirlResult(
    key="angular_momentum_flux",
    symbol="T",
    name=lazy("Angular momentum flux as indicated"),
    formula=lazy("the torque as read; of a vane wheel m ω B² ÷ 8"),
    source=lazy("definition; of a vane wheel for air that turns as a solid body"),
    unit="N.mm",
    si_unit=r"\newton\metre",
    scale=1e3,
    decimals=2,
    values=lambda test: test.momentum_fluxes,
)
MOMENTUM_PER_MASS = SwirlResult(
    key="angular_momentum_per_mass",
    symbol="T/m",
    name=lazy("Angular momentum per mass as indicated"),
    formula="T ÷ m",
    source=lazy("definition"),
    unit="m2/s",
    si_unit=r"\metre\tothe{2}\second\tothe{-1}",
    values=lambda test: test.momentum_per_mass,
)
INDICATED = SwirlResult(
    key="coefficient_indicated",
    symbol="N_i",
    name=lazy("Coefficient as indicated"),
    formula=lazy("torque: 8 T ÷ (m V₀ B); vane wheel: ω B ÷ V₀"),
    source=lazy("{heywood}, section 8.3.2, from memory", heywood=HEYWOOD),
    values=lambda test: test.indicated,
    expanded=lambda test: test.expanded(is_corrected=False),
)
CORRECTED = SwirlResult(
    key="coefficient",
    symbol="N",
    name=lazy("Coefficient"),
    formula=lazy("coefficient as indicated ÷ efficiency of the meter"),
    source=HEIM,
    values=lambda test: test.coefficients,
    expanded=lambda test: test.expanded(),
)

BY_LIFT: tuple[SwirlResult, ...] = (
    LIFT,
    CORRECTED,
    INDICATED,
    DISCHARGE,
    MOMENTUM_FLUX,
    MOMENTUM_PER_MASS,
)
