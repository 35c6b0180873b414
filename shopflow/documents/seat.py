"""A seat's profile on paper and screen: its cuts as rows, and its sizes for the drawing."""

from __future__ import annotations

from dataclasses import dataclass

from shopflow.calc.seats import Seat
from shopflow.texts import gettext


@dataclass(frozen=True)
class SeatCutRow:
    """One cut in words: its angle as typed, lengths in the shop's units."""

    angle: str
    width: str
    outer_diameter: str
    inner_diameter: str
    radial_width: str
    depth: str
    blend_radius: str = ""
    tool: str = ""
    is_contact: bool = False


@dataclass(frozen=True)
class SeatSheet:
    """A profile shared by some seats of one side."""

    title: str
    """The seats that have it, as "Intake, all 4 seats"."""

    cuts: tuple[SeatCutRow, ...]
    facts: tuple[tuple[str, str], ...]
    """Names and values of what holds for the seat as a whole."""

    seat: Seat
    notes: str = ""

    @property
    def description(self) -> str:
        """The profile in words, for whoever cannot see its drawing."""
        cuts = "; ".join(_in_words(cut) for cut in self.cuts)
        facts = "; ".join(f"{name}: {value}" for name, value in self.facts)
        text = gettext("From the chamber to the throat: {cuts}.", cuts=cuts)
        return f"{text} {facts}." if facts else text


def _in_words(cut: SeatCutRow) -> str:
    """A cut in words, its sizes in order."""
    named = gettext("{angle} seat") if cut.is_contact else gettext("{angle} cut")
    sizes = gettext(
        "{width} wide, from {outer} to {inner} in diameter",
        width=cut.width, outer=cut.outer_diameter, inner=cut.inner_diameter,
    )  # fmt: skip
    words = [named.format(angle=cut.angle), sizes]
    if cut.depth:
        words.append(gettext("{depth} deep", depth=cut.depth))
    if cut.blend_radius:
        words.append(gettext("blended by a radius of {radius}", radius=cut.blend_radius))
    return ", ".join([*words, *([cut.tool] if cut.tool else [])])
