"""The usual cautions, by hazard: they add to local codes and licensed practice."""

from __future__ import annotations

from collections.abc import Iterable

from shopflow.texts import lazy

DEFERRAL = lazy(
    "These are the usual cautions, not all there are. Local codes, the maker's instructions and "
    "licensed practice come first."
)

BY_HAZARD = {
    "springs": (
        lazy(
            "Springs under load: compress valve springs only with a compressor that holds the "
            "retainer, stand clear of its line, wear eye protection."
        )
    ),
    "pressure": (
        lazy(
            "Pressure: compressed air stores energy and throws a plate or plug that lets go. Test "
            "with water where you can, behind a guard, raise slowly, never above the rating of "
            "fixture or head, stand out of line, bleed to zero before loosening anything."
        )
    ),
    "vacuum": (
        lazy(
            "Vacuum: keep hands and hoses clear of the cup, never above the pump's rating; what is "
            "drawn in may be solvent or grit, so use a trap. Vent slowly before lifting the cup."
        )
    ),
    "dust": (
        lazy(
            "Grinding dust: extraction on, respirator and eye protection; old heads may carry "
            "lead, and bead dust harms the lungs. No blowing down with air."
        )
    ),
    "chemicals": (
        lazy(
            "Solvents, caustic and penetrants: gloves, face shield, ventilation, no flame; keep "
            "each one's safety sheet at hand and dispose of it as local rules say."
        )
    ),
    "magnetic": (
        lazy(
            "Magnetic particles: pacemakers and implants stay away from the yoke's field; UV lamps "
            "burn eyes and skin, so wear UV eye protection, and never breathe dry powder."
        )
    ),
    "hot": (
        lazy(
            "Hot metal and hot liquid: heated heads, seats and baths burn without looking hot; "
            "gloves, tongs, a marked place to cool."
        )
    ),
    "fumes": (
        lazy(
            "Welding: extraction, screens, dry gloves; degrease first, since chlorinated solvent "
            "makes poisonous gas under an arc."
        )
    ),
    "rotating": (
        lazy(
            "Rotating cutters: clamp the head, no gloves or loose sleeves near a turning cutter, "
            "eye protection, stop before measuring."
        )
    ),
    "lifting": (
        lazy(
            "Weight: lift long or iron heads with two people or a hoist rated for them; keep "
            "fingers from under the deck."
        )
    ),
    "bench": (
        lazy(
            "Flow bench: hearing protection, nothing loose near the inlet, motor off before "
            "reaching into the bore."
        )
    ),
}
"""Hazard key to caution."""

BRIEF = {
    "springs": lazy("springs under load: a compressor that holds the retainer, eye protection"),
    "pressure": lazy("pressure: behind a guard, raise slowly, bleed to zero before loosening"),
    "vacuum": lazy("vacuum: hands and hoses clear of the cup, vent slowly"),
    "dust": lazy("grinding dust: extraction, respirator, eye protection"),
    "chemicals": lazy("solvents and caustic: gloves, face shield, ventilation, no flame"),
    "magnetic": lazy("magnetic testing: pacemakers and watches well away, demagnetize after"),
    "hot": lazy("hot metal and liquid: gloves, tongs, a marked place to cool"),
    "fumes": lazy("welding fumes: extraction, screens, degrease first"),
    "rotating": lazy(
        "rotating cutters: clamp the head, no gloves or loose sleeves, eye protection"
    ),
    "lifting": lazy("weight: two people or a hoist, fingers from under the deck"),
    "bench": lazy("flow bench: hearing protection, motor off before reaching into the bore"),
}
"""Hazard key to its caution in brief, beside the step it belongs to."""

ASSEMBLY = (
    lazy(
        "Seat loads, spring data and clearances are this shop's for the stated use. The engine "
        "builder has the last word on them, and on fasteners, torque and sealing."
    ),
    lazy(
        "Before first start turn the engine over by hand through two turns with checking springs, "
        "and check valve to piston, coil bind and retainer to guide at full lift."
    ),
)
"""Caution on every hand-off sheet."""

BOOSTED = lazy(
    "Boosted engines: boost on the back of an intake valve takes load off its seat. Check the seat "
    "load at the boost the engine will really see before it is run."
)
"""Further caution on the hand-off sheet of a boosted engine."""

INSPECTED = (
    lazy(
        "The tests and measurements in this report are of the places named, on the day named. A "
        "crack or leak elsewhere, or one that opens only when hot or under load, may not have "
        "shown."
    ),
    lazy(
        "Valve springs are under load and heads are heavy: do not take a head apart without the "
        "tools made for it."
    ),
)
"""Cautions of every inspection report."""

UNFIT = lazy(
    "Do not run an engine with a head that failed a test or has values outside their limits until "
    "it is repaired, or whoever answers for the engine has decided otherwise."
)
"""Further caution where an inspection has such a result."""

PACKING = (
    lazy(
        "Cylinder heads are heavy: two people or a hoist for a long or iron one, hands from under "
        "it."
    ),
    lazy("No solvent, oil or pressure left in the head or the parcel; plug ports and oil ways."),
    lazy(
        "Valve springs go unloaded: never send a head with a compressor or a checking spring on it."
    ),
    lazy(
        "Boards over the deck and the rocker face, valves bagged by cylinder, nothing loose that "
        "can mark a seat."
    ),
    lazy(
        "Certificate and hand-off sheet inside, in a bag: whoever assembles the engine needs them."
    ),
)
"""Before a head is packed to be shipped; common practice, no source."""


def texts(hazards: Iterable[str]) -> list[str]:
    """The cautions of these hazards, each once, in the order of the list above.

    What is no hazard of the list is a caution of the shop's own and follows as it is.
    """
    wanted = dict.fromkeys(hazards)
    own = [hazard for hazard in wanted if hazard not in BY_HAZARD]
    return [str(text) for hazard, text in BY_HAZARD.items() if hazard in wanted] + own


def in_brief(hazards: Iterable[str]) -> list[str]:
    """The cautions of these hazards in brief; the shop's own as they are."""
    return [str(BRIEF.get(hazard, hazard)) for hazard in dict.fromkeys(hazards)]
