"""The kinds of measurement every shop starts with, part by part; a shop adds its own.

The bounds are those of any head, from a small motorcycle's to a marine diesel's: outside, a digit
or a unit is wrong. Common practice, no source.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from shopflow.models import MeasurementKind, PlaceKind
from shopflow.texts import lazy
from shopflow.units import CONDITION, parse


class Kind(NamedTuple):
    """One kind: what it measures, where, in which units, to which decimals, between what."""

    code: str
    name: str
    place: PlaceKind
    least: str = ""
    greatest: str = ""
    dimension: str = "length"
    us: tuple[str, int] = ("in", 4)
    si: tuple[str, int] = ("mm", 3)

    def row(self, position: int) -> MeasurementKind:
        """The kind as a record, at this place in lists."""
        return MeasurementKind(code=self.code, position=position, **self.values)

    @property
    def values(self) -> dict[str, Any]:
        """Its fields."""
        return {
            "name": str(self.name),
            "place_kind": self.place,
            "dimension": self.dimension,
            "us_unit": self.us[0],
            "us_decimals": self.us[1],
            "si_unit": self.si[0],
            "si_decimals": self.si[1],
            "least": parse(self.least, self.dimension) if self.least else None,
            "greatest": parse(self.greatest, self.dimension) if self.greatest else None,
        }


_VALVE, _SEAT, _GUIDE, _SPRING = (
    PlaceKind.VALVE,
    PlaceKind.SEAT,
    PlaceKind.GUIDE,
    PlaceKind.SPRING,
)
_CYLINDER, _PORT, _SECTION, _HEAD = (
    PlaceKind.CYLINDER,
    PlaceKind.PORT,
    PlaceKind.SECTION,
    PlaceKind.HEAD,
)
_COARSE: Any = {"us": ("in", 3), "si": ("mm", 2)}
_ANGLE: Any = {"dimension": "angle", "us": ("deg", 1), "si": ("deg", 1)}
_FORCE: Any = {"dimension": "force", "us": ("lbf", 0), "si": ("N", 0)}
_RATE: Any = {"dimension": "force per length", "us": ("lbf/in", 0), "si": ("N/mm", 1)}
_VOLUME: Any = {"dimension": "volume", "us": ("cm3", 1), "si": ("cm3", 1)}
_AREA: Any = {"dimension": "area", "us": ("in2", 3), "si": ("mm2", 0)}
_CONDITION: Any = {"dimension": CONDITION, "us": ("", 0), "si": ("", 0)}

KINDS = (
    Kind("guide bore", lazy("Guide bore"), _GUIDE, "2 mm", "25 mm"),
    Kind("guide clearance", lazy("Guide clearance"), _GUIDE, "0 mm", "1 mm"),
    Kind(
        "guide height",
        lazy("Guide height above the spring seat"),
        _GUIDE,
        "0 mm",
        "80 mm",
        **_COARSE,
    ),
    Kind("stem diameter", lazy("Stem diameter"), _VALVE, "2 mm", "25 mm"),
    Kind("stem diameter top", lazy("Stem diameter, top"), _VALVE, "2 mm", "25 mm"),
    Kind("stem diameter middle", lazy("Stem diameter, middle"), _VALVE, "2 mm", "25 mm"),
    Kind("stem diameter bottom", lazy("Stem diameter, bottom"), _VALVE, "2 mm", "25 mm"),
    Kind("stem wear", lazy("Stem wear"), _VALVE, "0 mm", "5 mm"),
    Kind("valve head diameter", lazy("Valve head diameter"), _VALVE, "8 mm", "150 mm", **_COARSE),
    Kind("valve margin", lazy("Valve margin"), _VALVE, "0 mm", "15 mm", **_COARSE),
    Kind("valve length", lazy("Valve length"), _VALVE, "30 mm", "500 mm", **_COARSE),
    Kind("tip length", lazy("Valve tip length"), _VALVE, "0 mm", "30 mm", **_COARSE),
    Kind("valve run-out", lazy("Valve face run-out"), _VALVE, "0 mm", "2 mm"),
    Kind(
        "contact width", lazy("Contact width on the valve face"), _VALVE, "0 mm", "15 mm", **_COARSE
    ),
    Kind("contact position", lazy("Contact below the margin"), _VALVE, "0 mm", "15 mm", **_COARSE),
    Kind("stem height", lazy("Stem height"), _VALVE, "5 mm", "200 mm", **_COARSE),
    Kind("recession", lazy("Recession"), _VALVE, "-5 mm", "15 mm", **_COARSE),
    Kind("valve depth", lazy("Valve depth below the deck"), _VALVE, "-10 mm", "20 mm", **_COARSE),
    Kind("insert bore", lazy("Insert bore in the head"), _SEAT, "8 mm", "160 mm"),
    Kind("insert diameter", lazy("Insert outside diameter"), _SEAT, "8 mm", "160 mm"),
    Kind("seat interference", lazy("Seat insert interference"), _SEAT, "0 mm", "1 mm"),
    Kind("seat angle", lazy("Seat angle"), _SEAT, "10 deg", "80 deg", **_ANGLE),
    Kind("seat width", lazy("Seat width on the cone face"), _SEAT, "0 mm", "15 mm", **_COARSE),
    Kind("seat run-out", lazy("Seat run-out"), _SEAT, "0 mm", "2 mm"),
    Kind("throat diameter", lazy("Throat diameter"), _SEAT, "6 mm", "150 mm", **_COARSE),
    Kind(
        "installed height",
        lazy("Installed height of the spring"),
        _SPRING,
        "5 mm",
        "200 mm",
        **_COARSE,
    ),
    Kind("shim", lazy("Spring shims"), _SPRING, "0 mm", "10 mm", **_COARSE),
    Kind("free length", lazy("Free length of the spring"), _SPRING, "10 mm", "300 mm", **_COARSE),
    Kind("seat load", lazy("Load on the seat"), _SPRING, "0 N", "10000 N", **_FORCE),
    Kind("open load", lazy("Load at full lift"), _SPRING, "0 N", "20000 N", **_FORCE),
    Kind("spring rate", lazy("Spring rate"), _SPRING, "0.1 N/mm", "1000 N/mm", **_RATE),
    Kind("squareness", lazy("Squareness of the spring"), _SPRING, "0 mm", "20 mm", **_COARSE),
    Kind("coil bind height", lazy("Coil bind height"), _SPRING, "5 mm", "200 mm", **_COARSE),
    Kind("retainer to guide", lazy("Retainer to guide seal"), _SPRING, "0 mm", "60 mm", **_COARSE),
    Kind("chamber volume", lazy("Chamber volume"), _CYLINDER, "1 cm3", "1500 cm3", **_VOLUME),
    Kind(
        "injector protrusion", lazy("Injector protrusion"), _CYLINDER, "-10 mm", "20 mm", **_COARSE
    ),
    Kind("prechamber protrusion", lazy("Prechamber protrusion"), _CYLINDER, "-5 mm", "5 mm"),
    Kind("port volume", lazy("Port volume"), _PORT, "1 cm3", "3000 cm3", **_VOLUME),
    Kind("short-side radius", lazy("Short-side radius"), _PORT, "0 mm", "100 mm", **_COARSE),
    Kind("guide to wall", lazy("Guide to port wall"), _PORT, "0 mm", "100 mm", **_COARSE),
    Kind("port area", lazy("Port area"), _SECTION, "10 mm2", "20000 mm2", **_AREA),
    Kind("port width", lazy("Port width"), _SECTION, "3 mm", "250 mm", **_COARSE),
    Kind("port height", lazy("Port height"), _SECTION, "3 mm", "250 mm", **_COARSE),
    Kind("port perimeter", lazy("Port perimeter"), _SECTION, "10 mm", "800 mm", **_COARSE),
    Kind("deck flatness", lazy("Deck flatness"), _HEAD, "0 mm", "5 mm"),
    Kind("deck cut", lazy("Deck cut depth"), _HEAD, "0 mm", "5 mm"),
    Kind("head thickness", lazy("Head thickness"), _HEAD, "5 mm", "500 mm"),
    Kind("cam bore", lazy("Cam bore"), _HEAD, "10 mm", "150 mm"),
    Kind("bolt hole", lazy("Bolt hole diameter"), _HEAD, "3 mm", "60 mm", **_COARSE),
    Kind("bolt hole condition", lazy("Bolt hole condition"), _HEAD, **_CONDITION),
    Kind("thread condition", lazy("Thread condition"), _HEAD, **_CONDITION),
    Kind("plug thread", lazy("Spark plug thread"), _CYLINDER, **_CONDITION),
)
"""In the order in which lists and sheets have them."""

POSITIONS = {kind.code: 10 * index for index, kind in enumerate(KINDS, start=1)}
"""Their places in lists; a shop's own come after them."""

BOUNDS = {kind.code: (kind.least, kind.greatest) for kind in KINDS if kind.least}
"""Between what each lies on any head, as typed."""
