"""Engine types: kept, and found however they are called."""

from __future__ import annotations

import pytest
from sqlalchemy.orm import Session

from shopflow.errors import NotFoundError
from shopflow.models import EngineType
from shopflow.services.actor import Actor
from shopflow.services.registry import engine_types
from tests import factories
from tests.services.expecting import assert_logged, faults_at, last_entry, log_of


def test_an_engine_type_keeps_its_quantities_as_typed(db: Session, by: Actor):
    engine_type = engine_types.create(
        db, by,
        {"builder": "Hollin", "family": "K18", "displacement": "109.4 in3", "bore": "80.50 mm",
         "cylinders": "4", "aliases": "K 18 T, one eight\nK18 , K 18 T"},
    )  # fmt: skip
    db.flush()
    db.expire(engine_type)
    assert engine_types.get(db, engine_type.id).title == "Hollin K18"
    assert engine_type.displacement is not None
    assert engine_type.bore is not None
    assert (engine_type.displacement.text, engine_type.bore.text) == ("109.4 in3", "80.50 mm")
    # 1 in = 25.4 mm, by definition.
    assert engine_type.displacement.si == pytest.approx(109.4 * 0.0254**3, rel=1e-15)
    assert engine_type.stroke is None
    assert engine_type.valves_per_cylinder == 2
    assert sorted(alias.name for alias in engine_type.aliases) == ["K 18 T", "K18", "one eight"]
    assert_logged(db, engine_type, by, "added")


@pytest.mark.parametrize(
    ("values", "keys"),
    [
        ({"builder": " ", "family": ""}, ["builder", "family"]),
        ({"cylinders": ""}, ["cylinders"]),
        ({"cylinders": "0"}, ["cylinders"]),
        ({"cylinders": "four"}, ["cylinders"]),
        ({"valves_per_cylinder": "1"}, ["valves_per_cylinder"]),
        ({"displacement": "1792"}, ["displacement"]),
        ({"displacement": "0 cm3"}, ["displacement"]),
        ({"bore": "81 cm3"}, ["bore"]),
        ({"stroke": "-1 mm"}, ["stroke"]),
        ({"cooling": "oil"}, ["cooling"]),
        ({"aliases": "x" * 101}, ["aliases"]),
        ({"colour": "red"}, ["colour"]),
    ],
)
def test_what_cannot_be_is_refused_at_its_field(
    sqlite_db: Session, by: Actor, values: dict[str, str], keys: list[str]
):
    sound = {"builder": "Hollin", "family": "K18", "cylinders": "4"}
    with faults_at(*keys):
        engine_types.create(sqlite_db, by, {**sound, **values})


def test_builder_and_family_are_on_file_once(db: Session, by: Actor):
    factories.create_engine_type(db, family="K18")
    other = factories.create_engine_type(db, family="K20")
    with faults_at("family"):
        factories.create_engine_type(db, family="K18")
    with faults_at("family"):
        engine_types.change(db, by, other, {"family": "K18"})
    engine_types.change(db, by, other, {"family": "K20", "notes": "the same name stays its own"})
    assert [engine_type.family for engine_type in engine_types.list_all(db)] == ["K18", "K20"]


def test_changes_are_logged_the_other_names_among_them(db: Session, by: Actor):
    engine_type = factories.create_engine_type(db, aliases=["A", "B"])
    engine_types.change(db, by, engine_type, {"bore": "81.5 mm", "aliases": "B, C"})
    entries = log_of(db, engine_type)[-2:]
    assert entries[0].changes == {"bore": ["80.5 mm", "81.5 mm"]}
    assert entries[1].changes == {"aliases": ["A, B", "B, C"]}
    engine_types.change(db, by, engine_type, {"aliases": "C\nB"})
    assert last_entry(db, engine_type).id == entries[1].id
    engine_types.change(db, by, engine_type, {"aliases": ""})
    assert engine_type.aliases == []


def test_an_unknown_key_is_not_found(db: Session):
    with pytest.raises(NotFoundError, match="this engine type does not exist"):
        engine_types.get(db, 4711)


@pytest.fixture
def types(db: Session) -> Session:
    for builder, family, displacement, aliases in [
        ("Vantera", "V18T 20-valve", "1792 cm3", "Vantera V18, eighteen five valve"),
        ("Ostermark", "O20T 16-valve", "1998 cm3", "O20T"),
        ("Delmarra", "Ironside 342", "342 in3", "Iron side V8"),
        ("Ferrow", "Boxline 1600", "1626 cm3", "Boxline air-cooled"),
        ("Brücke", "Öl 40", "", ""),
    ]:
        factories.create_engine_type(
            db, builder=builder, family=family, displacement=displacement, aliases=aliases
        )
    return db


FOUND = {
    "Vantera": ["V18T 20-valve"],
    "vant": ["V18T 20-valve"],
    "Vantara": ["V18T 20-valve"],
    "v 18-t": ["V18T 20-valve"],
    "eigthteen five valve": ["V18T 20-valve"],
    "1.8": ["V18T 20-valve"],
    "1,8": ["V18T 20-valve"],
    "1800 cc": ["V18T 20-valve"],
    "1800cc": ["V18T 20-valve"],
    "1.8 L": ["V18T 20-valve"],
    "1.8 litres": ["V18T 20-valve"],
    "Vantera 1.8": ["V18T 20-valve"],
    "Ostermark 2.0": ["O20T 16-valve"],
    "2.0": ["O20T 16-valve"],
    "2 litre": ["O20T 16-valve"],
    "5.6": ["Ironside 342"],
    "342 ci": ["Ironside 342"],
    "342": ["Ironside 342"],
    "Ironsde": ["Ironside 342"],
    "delmara": ["Ironside 342"],
    "342 cu in": ["Ironside 342"],
    "342 cu. in.": ["Ironside 342"],
    "342ci": ["Ironside 342"],
    "342 c.i.": ["Ironside 342"],
    "342 cubic inches": ["Ironside 342"],
    "342 in³": ["Ironside 342"],
    # 342 in3 is 5604 cm3, by 1 in = 25.4 mm.
    "5604 cc": ["Ironside 342"],
    "5.6 L": ["Ironside 342"],
    "5,6 litres": ["Ironside 342"],
    "109 cu in": ["V18T 20-valve"],
    "122ci": ["O20T 16-valve"],
    "2.0 4 cyl": ["O20T 16-valve"],
    "2.0 V8": [],
    "1600": ["Boxline 1600"],
    "brucke": ["Öl 40"],
    "OL 40": ["Öl 40"],
    "": [],
    "?!": [],
    "0": [],
    "9" * 400 + " cc": [],
    "\x00": [],
    "nothing like it": [],
}


def test_it_is_found_by_name_alias_or_displacement_slips_forgiven(
    types: Session, subtests: pytest.Subtests
):
    for text, value in FOUND.items():
        with subtests.test(text[:40]):
            assert [
                engine_type.family for engine_type in engine_types.look_up(types, text)
            ] == value


def test_the_best_match_comes_first(db: Session):
    for family in ("K18T", "K18", "K180"):
        factories.create_engine_type(db, family=family)
    assert engine_types.look_up(db, "K18")[0].family == "K18"


def test_each_match_says_why(types: Session):
    why = {
        "1800 cc": "displaces 1792 cm³",
        "342ci": "displaces 342 in³",
        "Vantera": "engine Vantera",
        "delmara": "engine Delmarra",
        "iron side v8": "Delmarra Ironside 342 is also called Iron side V8",
    }
    for text, wanted in why.items():
        assert [match.why for match in engine_types.matches(types, text)] == [wanted], text


def test_kin_share_a_name_or_begin_alike_under_one_builder(db: Session):
    def add(builder: str, family: str, aliases: str = "") -> EngineType:
        return factories.create_engine_type(db, builder=builder, family=family, aliases=aliases)

    plain = add("Delmarra", "Ironside", "iron side, the wedge")
    late = add("Delmarra", "Ironside late")
    twin = add("Ostermark", "Licence 42", "The Wedge")
    add("Ostermark", "Ironside late")
    add("Delmarra", "Ir")
    add("Delmarra", "Haulmaster")
    assert engine_types.relatives(db, plain) == [late, twin]
    assert engine_types.relatives(db, twin) == [plain]
    assert add("Delmarra", "342").title not in {k.title for k in engine_types.relatives(db, plain)}
    add("Delmarra", "3420")
    assert engine_types.relatives(db, engine_types.look_up(db, "Delmarra 342")[0]) == []
