"""Boost or back pressure on a side's valves: what pushes them off their seats, and from where."""

from __future__ import annotations

from dataclasses import dataclass

from shopflow.calc.springs import pressure_force
from shopflow.models import Induction, ValveSetUp, Visit, When
from shopflow.services.measuring.as_measured import as_typed
from shopflow.texts import gettext
from shopflow.units import Quantity, UnitSystem, pretty_text


@dataclass(frozen=True)
class Pressure:
    """Pressure on the valve heads of one side, above that of the cylinder."""

    side: str
    value: Quantity | None
    diameter: Quantity | None
    """Of the valve head that it pushes on."""

    is_due: bool
    """True where the job's induction puts pressure on this side, whether it is entered or not."""

    of_job: bool
    """True where it is the job's boost, which the hand-off note leaves blank."""

    @property
    def force(self) -> float:
        """Force on the whole face of a valve head, N; 0 where it is not known."""
        if self.value is None or self.diameter is None:
            return 0.0
        return float(pressure_force(self.value.si, self.diameter.si))

    @property
    def not_taken_off(self) -> str:
        """Sentence: pressure that no load here allows for, and what to enter; empty for none."""
        is_boost = self.side == "intake"
        if self.value is None:
            if not self.is_due:
                return ""
            if is_boost:
                return gettext("Boost not taken off. Enter the boost of the job.")
            return gettext(
                "Exhaust back pressure not taken off. Enter it in the hand-off note, measured "
                "before the turbine."
            )
        if self.diameter is not None or not self.value.si:
            return ""
        pressure = pretty_text(self.value.text)
        if is_boost:
            return gettext(
                "Boost {pressure} not taken off. Enter the valve head diameter in the hand-off "
                "note.",
                pressure=pressure,
            )
        return gettext(
            "Back pressure {pressure} not taken off. Enter the valve head diameter in the "
            "hand-off note.",
            pressure=pressure,
        )

    @property
    def fault(self) -> str:
        """The same of one valve in a few words; empty where nothing lacks."""
        if not self.not_taken_off:
            return ""
        if self.side == "intake":
            return gettext("boost not taken off")
        return gettext("back pressure not taken off")

    def working(self, units: UnitSystem) -> str:
        """Origin of the force in words; empty where there is none."""
        if self.value is None or self.diameter is None:
            return ""
        values = {
            "pressure": pretty_text(self.value.text),
            "diameter": as_typed(self.diameter, self.value, units),
        }
        if self.of_job:
            return gettext(
                "{pressure} of the job on the whole face of a {diameter} valve head, stem not "
                "taken off",
                **values,
            )
        return gettext(
            "{pressure} on the whole face of a {diameter} valve head, stem not taken off", **values
        )


def of_side(visit: Visit, side: str, note: ValveSetUp | None) -> Pressure:
    """Pressure on a side: of its hand-off note, else on the intake the boost of its job.

    The diameter is the note's, else that of the last flow test, else the largest measured.
    """
    job = visit.job
    noted = note.port_pressure if note is not None else None
    boost = job.boost if side == "intake" else None
    is_due = job.is_boosted if side == "intake" else job.induction is Induction.TURBOCHARGED
    return Pressure(
        side=side,
        value=noted or boost,
        diameter=(note.valve_head_diameter if note is not None else None) or _diameter(visit, side),
        is_due=is_due,
        of_job=noted is None and boost is not None,
    )


def _diameter(visit: Visit, side: str) -> Quantity | None:
    tested = [row.head_diameter for row in visit.sessions if row.side == side]
    if tested:
        return tested[-1]
    measured = [
        row.value
        for row in visit.measurements
        if row.kind.code == "valve head diameter" and row.side == side and row.when is When.AFTER
    ]
    return max(measured, key=lambda value: value.si, default=None)
