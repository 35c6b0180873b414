"""Engine types: finding them however they are called, adding and changing them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session, lazyload, load_only
from sqlalchemy.orm.attributes import flag_modified

from shopflow import units
from shopflow.errors import FieldError, NotFoundError, ValidationError
from shopflow.models import Cooling, EngineAlias, EngineType
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.matching import name_index
from shopflow.services.matching.fuzzy import GOOD_MATCH
from shopflow.services.matching.name_index import Called
from shopflow.services.registry import head_layouts
from shopflow.texts import gettext
from shopflow.units import pretty_text

SPECIFICATION: fields.Specification = {
    "builder": fields.text(required=True),
    "family": fields.text(required=True),
    "displacement": fields.quantity("volume", above=0.0),
    "bore": fields.quantity("length", above=0.0),
    "stroke": fields.quantity("length", above=0.0),
    "cylinders": fields.count(least=1, required=True),
    "valves_per_cylinder": fields.count(least=2, required=True),
    "cooling": fields.one_of(Cooling),
    "fuel": fields.text(),
    "notes": fields.words(),
}
NAME_ONLY = (load_only(EngineType.builder, EngineType.family), lazyload(EngineType.aliases))
"""Columns read of an engine type where only its name is shown."""

WITH_LAYOUT = (
    load_only(
        EngineType.builder,
        EngineType.family,
        EngineType.cylinders,
        EngineType.cylinders_per_head,
        EngineType.intake_valves,
        EngineType.exhaust_valves,
        EngineType.intake_ports,
        EngineType.exhaust_ports,
    ),
    lazyload(EngineType.aliases),
)
"""Columns read of an engine type where places of its heads are named as well."""

DISPLACEMENT_TOLERANCE = 0.03
"""An engine sold as a 1.8 displaces 1.75 to 1.85 L: names are rounded, castings are not."""

EXACT = 100.0
"""Likeness of what is not merely alike."""

SHORTEST_FAMILY = 3
"""Letters of a family's name by which another may be known as its kin."""

_DISPLACEMENT = re.compile(
    r"(?<![\w.])(?P<number>\d+(?:[.,]\d+)?)\s*"
    r"(?P<unit>cc|ccm|cm3|cm³|l|lit(?:er|re)s?|c\.?i\.?d?|cui|"
    r"cu(?:bic)?[.\s]*in(?:ch(?:es)?|\.)?|in3|in³|in\^3)?"
    r"(?![\w.])",
    re.IGNORECASE,
)

_LAYOUT = re.compile(
    r"(?:v|i|l|flat|inline|straight)?[\s-]*(?P<cylinders>\d{1,2})(?:[\s-]*cyl(?:inders?)?\.?)?",
    re.IGNORECASE,
)
"""Names of cylinder layouts: "V8", "flat 4", "4 cyl"."""


def is_any(db: Session) -> bool:
    """True where there is an engine type on record."""
    return db.scalar(select(EngineType.id).limit(1)) is not None


def list_all(db: Session) -> list[EngineType]:
    """Every engine type, by builder and family."""
    return list(db.scalars(select(EngineType).order_by(EngineType.builder, EngineType.family)))


def get(db: Session, engine_type_id: int) -> EngineType:
    """The engine type with this key. Raises NotFoundError."""
    engine_type = db.get(EngineType, engine_type_id)
    if engine_type is None:
        raise NotFoundError(gettext("this engine type does not exist"))
    return engine_type


def create(db: Session, by: Actor, values: Mapping[str, Any]) -> EngineType:
    """Add an engine type; `aliases` is text, one name per line or comma. Raises ValidationError."""
    rest, aliases = _split_aliases(values)
    clean = fields.require(
        SPECIFICATION, {"valves_per_cylinder": 2, **rest}, "builder", "family", "cylinders"
    )
    _refuse_double(db, clean["builder"], clean["family"], but=None)
    layout = head_layouts.certain(clean["cylinders"], clean["valves_per_cylinder"])
    engine_type = EngineType(**clean, **layout)
    engine_type.aliases = [EngineAlias(name=name) for name in aliases or ()]
    db.add(engine_type)
    audit_log.record(db, by, engine_type, "added")
    return engine_type


def change(
    db: Session, by: Actor, engine_type: EngineType, values: Mapping[str, Any]
) -> EngineType:
    """Change an engine type and, where `aliases` is given, its other names.

    Raises ValidationError.
    """
    rest, aliases = _split_aliases(values)
    clean = fields.read(SPECIFICATION, rest)
    _refuse_double(
        db,
        clean.get("builder", engine_type.builder),
        clean.get("family", engine_type.family),
        but=engine_type,
    )
    head_layouts.refuse_contradiction(engine_type, clean)
    if clean.get("valves_per_cylinder", 0) not in (0, engine_type.valves_per_cylinder):
        cylinders = clean.get("cylinders", engine_type.cylinders)
        clean |= head_layouts.certain(cylinders, clean["valves_per_cylinder"])
    audit_log.change(db, by, engine_type, clean)
    if aliases is not None:
        _change_aliases(db, by, engine_type, aliases)
    return engine_type


@dataclass(frozen=True)
class Match:
    """The key of an engine type that a text may mean, and why."""

    key: int
    why: str
    likeness: float


def look_up(db: Session, text: str) -> list[EngineType]:
    """Engine types meant by a text, best first; see `matches`."""
    keys = [match.key for match in matches(db, text)]
    engine_types = db.scalars(select(EngineType).where(EngineType.id.in_(keys)))
    return sorted(engine_types, key=lambda engine_type: keys.index(engine_type.id))


def matches(db: Session, text: str) -> list[Match]:
    """Match a text with engine types, best first, each with the reason.

    Names are matched with slips forgiven, against builder, family and aliases; a number is also
    read as a displacement, in litres where it is small ("1.8") and cubic centimetres or inches by
    its unit ("1800 cc", "342 ci", "336 cu in"). Words beside a displacement must match the name
    or with the number of cylinders ("5.0 V8"). Digits are not forgiven: a type that has a number
    in none of its names is not meant by it ("Ironside 289" is no Ironside 342).
    """
    on_file = name_index.engine_types(db)
    wanted = _displacement(text)
    words = " ".join(_DISPLACEMENT.sub(" ", text, count=1).split()) if wanted else text.strip()
    alike = on_file.names.like(text)
    sized = {index for index, called in enumerate(on_file.types) if _displaces(called, wanted)}
    beside = on_file.names.like(words) if sized else {}
    # The types are in the order of builder and family, which sorting by likeness keeps.
    meant = [on_file.types[index] for index in sorted(on_file.called(alike) | sized)]
    hits = [_match(called, text, alike, wanted, words, beside) for called in meant]
    return sorted(filter(None, hits), key=lambda match: -match.likeness)


def pieces(text: str) -> list[str]:
    """A text's words, a displacement with its unit kept as one.

    >>> pieces("336 cu in Finch")
    ['336 cu in', 'Finch']
    """
    size = _DISPLACEMENT.search(text)
    if size is None:
        return text.split()
    return [*text[: size.start()].split(), size[0].strip(), *text[size.end() :].split()]


def _match(
    called: Called,
    text: str,
    alike: Mapping[str, float],
    wanted: float | None,
    words: str,
    beside: Mapping[str, float],
) -> Match | None:
    """Match of a type with a text by the name most like it, else by its size; None where neither
    fits."""
    score = max(alike.get(name, 0.0) for name in called.names)
    fits = _displaces(called, wanted) and (not words or _goes_with(called, words, beside))
    if fits and score < EXACT:
        return Match(called.key, gettext("displaces {size}", size=pretty_text(called.size)), EXACT)
    if score < GOOD_MATCH or called.contradicts(text):
        return None
    # Of names that are equally alike the type's own is said.
    name = next(name for name in called.names if alike.get(name) == score)
    own = name in (called.title, called.builder, called.family)
    why = (
        gettext("engine {name}", name=name)
        if own
        else gettext("{title} is also called {name}", title=called.title, name=name)
    )
    return Match(called.key, why, score)


def _goes_with(called: Called, words: str, beside: Mapping[str, float]) -> bool:
    layout = _LAYOUT.fullmatch(words)
    if layout and int(layout["cylinders"]) == called.cylinders:
        return True
    return any(name in beside for name in called.names)


def relatives(db: Session, engine_type: EngineType) -> list[EngineType]:
    """Other types that seem to be of the same family, by builder and family.

    They are called by a name that this one is called by as well, or are of the same builder with a
    family whose name begins alike, as "Ironside 342" and "Ironside 342 late".
    """
    kin = keys_of_relatives(db, engine_type)
    if not kin:
        return []
    query = select(EngineType).where(EngineType.id.in_(kin))
    return list(db.scalars(query.order_by(EngineType.builder, EngineType.family)))


def keys_of_relatives(db: Session, engine_type: EngineType) -> tuple[int, ...]:
    """Keys of related engine types, cached for the present names."""
    called, key = name_index.engine_types(db), engine_type.id
    if key not in called.kin:
        own = next(own for own in called.types if own.key == key)
        called.kin[key] = tuple(
            other.key
            for other in called.types
            if other is not own
            and (not own.families.isdisjoint(other.families) or _same_family(own, other))
        )
    return called.kin[key]


def _same_family(called: Called, other: Called) -> bool:
    if called.bare_builder != other.bare_builder:
        return False
    short, long = sorted((called.bare_family, other.bare_family), key=len)
    # Two letters or a number alone begin too much.
    return len(short) >= SHORTEST_FAMILY and not short.isdigit() and long.startswith(short)


def _displacement(text: str) -> float | None:
    """The displacement a text speaks of, in m3; none where it speaks of none."""
    match = _DISPLACEMENT.search(text)
    if match is None:
        return None
    number = float(match["number"].replace(",", "."))
    unit = (match["unit"] or "").lower()
    if unit in ("cc", "ccm", "cm3", "cm³"):
        return units.to_si(number, "cm3")
    if unit.startswith(("ci", "cu", "in")):
        return units.to_si(number, "in3")
    if unit.startswith("l") or 0.1 <= number < 20:
        return units.to_si(number, "L")
    return units.to_si(number, "cm3") if number >= 500 else units.to_si(number, "in3")


def _displaces(called: Called, wanted: float | None) -> bool:
    if not wanted or called.displacement is None:
        return False
    return abs(called.displacement / wanted - 1) <= DISPLACEMENT_TOLERANCE


def _split_aliases(values: Mapping[str, Any]) -> tuple[dict[str, Any], list[str] | None]:
    rest = dict(values)
    typed = rest.pop("aliases", None)
    if typed is None:
        return rest, None
    pieces = re.split(r"[,\n]", typed) if isinstance(typed, str) else typed
    names = list(dict.fromkeys(piece.strip() for piece in pieces if piece.strip()))
    if any(len(name) > 100 for name in names):
        raise ValidationError(
            [FieldError("aliases", gettext("too long: enter at most 100 characters per name"))]
        )
    return rest, names


def _change_aliases(db: Session, by: Actor, engine_type: EngineType, names: list[str]) -> None:
    before = [alias.name for alias in engine_type.aliases]
    by_name = {alias.name: alias for alias in engine_type.aliases}
    if sorted(before) == sorted(names):
        return
    engine_type.aliases = [by_name.get(name) or EngineAlias(name=name) for name in names]
    # The names lie in rows of their own; the type counts as changed all the same.
    flag_modified(engine_type, "notes")
    audit_log.record(
        db,
        by,
        engine_type,
        "changed",
        changes={"aliases": [", ".join(before), ", ".join(names)]},
    )


def _refuse_double(db: Session, builder: str, family: str, but: EngineType | None) -> None:
    query = select(EngineType).where(EngineType.builder == builder, EngineType.family == family)
    existing = db.scalars(query).first()
    if existing is not None and existing is not but:
        raise ValidationError(
            [
                FieldError(
                    "family",
                    gettext(
                        "{builder} {family} exists already: use that one",
                        builder=builder,
                        family=family,
                    ),
                )
            ]
        )
