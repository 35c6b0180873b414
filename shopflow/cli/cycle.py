"""The command that looks at ports through an engine's cam."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator
from pathlib import Path

from shopflow import camfile, testfile, units
from shopflow.calc.cycle import Cycle, OpenPort, Port, SideOfCycle
from shopflow.calc.cycle import cycle as through_cam
from shopflow.calc.reduction import Reduction
from shopflow.calc.reduction import reduce as reduce_test
from shopflow.calc.sanity import warnings
from shopflow.camfile import CamDocument, Side
from shopflow.cli.files import at_lifts, read_all
from shopflow.cli.terminal import one_line, print_json, print_table, transposed, warn
from shopflow.errors import FieldError, ValidationError
from shopflow.testfile import SessionDocument
from shopflow.texts import gettext, translated

SIDES: tuple[Side, Side] = ("intake", "exhaust")
Tests = dict[Side, tuple[SessionDocument, Reduction]]


def cycle(arguments: argparse.Namespace) -> int:
    """Print an engine's ports through its cam."""
    cam, tests = _read(arguments)
    results = _worked_out(cam, tests)
    for side, (document, reduction) in tests.items():
        warn(f"{side}: {text}" for text in at_lifts(document, warnings(reduction)))
    warn(_beyond(results, tests))
    if arguments.json:
        print_json(_json(cam, results))
    else:
        _print(cam, results)
    return 0


COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {"cycle": cycle}


def _read(arguments: argparse.Namespace) -> tuple[CamDocument, Tests]:
    """The cam and the tests. Raises ValidationError: faults of the cam by their key alone, those
    of tests with their file before it."""
    faults: list[FieldError] = []
    paths: dict[Side, Path] = {
        side: getattr(arguments, side) for side in SIDES if getattr(arguments, side)
    }
    cam = None
    try:
        cam = camfile.read(arguments.cam)
    except ValidationError as error:
        faults += error.faults
    tests: Tests = {}
    for side, path in paths.items():
        try:
            (document,) = read_all((path, testfile.read))
        except ValidationError as error:
            faults += error.faults
            continue
        tests[side] = document, reduce_test(document.flow_test())
        if document.side != side:
            message = gettext(
                "side: this is a test of the {tested}, not of the {side}",
                tested=translated(document.side),
                side=translated(side),
            )
            faults.append(FieldError(str(path), message))
    if cam is not None and "exhaust" in paths and cam.exhaust is None:
        faults.append(
            FieldError("exhaust", gettext("missing; a test of the exhaust needs its lobe"))
        )
    if faults or cam is None:
        raise ValidationError(faults)
    return cam, tests


def _worked_out(cam: CamDocument, tests: Tests) -> Cycle:
    """The ports through the cam. Raises ValidationError."""
    ports = {side: Port.of(reduction) for side, (_, reduction) in tests.items()}
    intake = OpenPort(cam.intake.motion("intake"), ports["intake"])
    exhaust = None
    if cam.exhaust is not None:
        exhaust = OpenPort(cam.exhaust.motion("exhaust"), ports.get("exhaust"))
    air = None if cam.intake_temperature is None else cam.intake_temperature.si
    try:
        return through_cam(cam.engine, intake, exhaust, air)
    except ValueError as error:
        raise ValidationError([FieldError("engine", str(error))]) from None


def _beyond(results: Cycle, tests: Tests) -> Iterator[str]:
    """Sides whose valve goes beyond what was tested."""
    for side, (document, _) in tests.items():
        of_side: SideOfCycle | None = getattr(results, side)
        if of_side is not None and of_side.share_beyond_test:
            yield gettext(
                "{side}: for {percent:.1f} % of the open period the valve is above the last lift "
                "tested, {lift} {unit}; the area is held there",
                side=translated(side),
                percent=100.0 * of_side.share_beyond_test,
                lift=document.lifts[-1],
                unit=document.lift_unit,
            )


def _json(cam: CamDocument, results: Cycle) -> dict[str, object]:
    exhaust = _side_json(results.exhaust)
    if exhaust is not None:
        exhaust["blowdown_area_integral"] = results.blowdown_area_integral
    return {
        "schema": 1,
        "title": cam.title,
        "intake": _side_json(results.intake),
        "exhaust": exhaust,
        "overlap_area_integral": results.overlap_area_integral,
        "mach_index": results.mach_index,
    }


def _side_json(side: SideOfCycle | None) -> dict[str, float | None] | None:
    return None if side is None else {name: getattr(side, name) for name in side.__slots__}


def _print(cam: CamDocument, results: Cycle) -> None:
    system = units.US_CUSTOMARY if cam.bore.unit == "in" else units.SI
    print(one_line(" · ".join(filter(None, (cam.title, *_engine(cam))))))
    print()
    sides = [(side, of_side) for side in SIDES if (of_side := getattr(results, side)) is not None]
    print_table(*transposed(_columns(sides, system)))
    for line in _lines(results, system):
        print(line)
    print()
    for note in _notes(cam):
        print(note)


def _engine(cam: CamDocument) -> tuple[str, str]:
    return gettext("bore × stroke {bore} × {stroke}", bore=cam.bore, stroke=cam.stroke), str(
        cam.speed
    )


def _columns(sides: list[tuple[Side, SideOfCycle]], system: units.UnitSystem) -> list[list[str]]:
    """The table's columns, each from its two rows of heading down."""
    (area, decimals), (lift, lift_places) = system.choices["port area"], system.choices["lift"]
    area_scale, lift_scale = units.UNITS[area].scale, units.UNITS[lift].scale
    unit = units.pretty(area)
    columns = (
        (gettext("Opens"), "deg", "opens", 1.0, 1),
        (gettext("Closes"), "deg", "closes", 1.0, 1),
        (gettext("Max lift"), lift, "max_lift", lift_scale, lift_places),
        (gettext("Mean area"), unit, "mean_effective_area", area_scale, decimals),
        (gettext("Area × angle"), f"{unit}·deg", "area_integral", area_scale, decimals),
        ("Time-area", f"{unit}·ms", "time_area", 1e-3 * area_scale, decimals + 1),
        (gettext("Beyond test"), "%", "share_beyond_test", 0.01, 1),
    )
    return [
        ["", "", *(translated(side) for side, _ in sides)],
        *(
            [head, under, *(_figure(getattr(side, name), scale, digits) for _, side in sides)]
            for head, under, name, scale, digits in columns
        ),
    ]


def _figure(value: float | None, scale: float, decimals: int) -> str:
    """A figure in its unit; empty where there is none."""
    return "" if value is None else f"{value / scale:.{decimals}f}"


def _lines(results: Cycle, system: units.UnitSystem) -> Iterator[str]:
    """The figures of the whole engine."""
    unit = system.unit("port area")
    for name, value in (
        (
            gettext("Blow-down, exhaust opening to bottom dead center"),
            results.blowdown_area_integral,
        ),
        (gettext("Overlap, both ports in series"), results.overlap_area_integral),
    ):
        if value is not None:
            area = units.from_si(value, unit)
            yield f"{name}: {area:.{system.choices['port area'][1]}f} {units.pretty(unit)}·deg"
    if results.mach_index is not None:
        yield gettext("Mean inlet Mach index: {mach_index:.2f}", mach_index=results.mach_index)


def _notes(cam: CamDocument) -> Iterator[str]:
    """Notes that define the results."""
    yield gettext("Angles: crank degrees from top dead center of the overlap.")
    yield (
        gettext(
            "Mean area: effective area over the open period. Above the last lift tested the area "
            "there is held; the share of the open period so held is beyond test."
        )
    )
    yield (
        gettext(
            "Mach index: mean piston speed × piston area/(speed of sound × mean area of the "
            "intake). Filling falls steeply above about 0.5 (JSME dictionary of mechanical "
            "engineering, entry 11:1002813)."
        )
    )
    lobes = ((side, cam.lobe_of(side)) for side in SIDES)
    for side in [side for side, lobe in lobes if lobe is not None and lobe.is_stand_in]:
        yield gettext(
            "The {side} lobe is a stand-in, greatest lift × sin² over its duration: nobody "
            "measured it.",
            side=translated(side),
        )
