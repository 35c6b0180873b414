"""Checking a cam file's content: every fault in one go, each at its key."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from itertools import pairwise
from typing import Any

from shopflow.camfile.document import CamDocument, LobeDocument, Side
from shopflow.camfile.keys import (
    ARRAYS,
    ENGINE,
    LIFT_UNITS,
    SIDES,
    STAND_IN,
    TEXTS,
    TOP_LEVEL,
    of_lobe,
)
from shopflow.errors import ValidationError
from shopflow.testfile.values import RefusedError, number, shown
from shopflow.testfile.walking import Values, Walker
from shopflow.texts import gettext
from shopflow.units import Quantity, to_si

FEWEST_POINTS = 3
SHORTEST, LONGEST = 1.0, 720.0
"""Crank degrees of a lobe: none lasts longer than the cycle."""

FARTHEST = 360.0
"""Crank degrees of a centreline from the overlap."""

LEAST_STEP = 1e-6
"""Crank degrees; angles nearer to one another are one."""

LONGEST_LENGTH = 10.0
"""m; no engine is so large, nor does any valve lift so far."""

SLOWEST, FASTEST = 1.0, 1e6
"""rpm; no engine runs slower or faster."""

MOST_RATIO = 100.0
"""No rocker multiplies a lift so often."""


def check(content: Mapping[str, Any]) -> CamDocument:
    """The document a parsed cam file describes.

    `content` is nested as the file is; numbers may be int, Decimal or float. Raises ValidationError
    with every fault found.
    """
    checker = _Checker(content)
    values = checker.run()
    if checker.faults:
        raise ValidationError(checker.faults)
    return CamDocument(**values)


class _Checker(Walker):
    """Walks the content once and collects the faults."""

    def run(self) -> Values:
        """The fields that could be read; complete where there is no fault."""
        self.unknown("", self.content, TOP_LEVEL)
        self.schema()
        values = self.values(TEXTS, self.content)
        engine = self.table("engine")
        if engine is not None:
            self.unknown("engine", engine, [key.name for key in ENGINE])
            values |= self.values(ENGINE, engine)
        for name in ("bore", "stroke", "rod_length"):
            self.length(f"engine.{name}", values.get(name))
        self.speed(values.get("speed"))
        ratio = values.get("compression_ratio")
        if ratio is not None and ratio <= 1:
            self.fault("engine.compression_ratio", gettext("{ratio} is not above 1", ratio=ratio))
        for side in SIDES:
            if side == "intake" or side in self.content:
                values[side] = self.lobe(side)
        return values

    def lobe(self, side: str) -> LobeDocument | None:
        """A side's table; None where it has a fault."""
        table, before = self.table(side), len(self.faults)
        if table is None:
            return None
        keys = of_lobe(side)
        self.unknown(side, table, [*(key.name for key in keys), *ARRAYS])
        values = self.values(keys, table)
        self.angle(f"{side}.centreline", values.get("centreline"), -FARTHEST, FARTHEST)
        self.angle(f"{side}.duration", values.get("duration"), SHORTEST, LONGEST)
        self.length(f"{side}.max_lobe_lift", values.get("max_lobe_lift"))
        ratio = values.get("rocker_ratio")
        if ratio is not None and ratio > MOST_RATIO:
            self.fault(
                f"{side}.rocker_ratio",
                gettext(
                    "{shown} is above {most_ratio:g}", shown=shown(ratio), most_ratio=MOST_RATIO
                ),
            )
        values |= self.shape(side, table)
        if len(self.faults) > before:
            return None
        return self.opening(side, LobeDocument(**values))

    def length(self, key: str, quantity: Quantity | None) -> None:
        """A length that no engine has."""
        if quantity is not None and quantity.si > LONGEST_LENGTH:
            self.fault(
                key,
                gettext(
                    "{found} is above {longest_length:g} m",
                    found=quantity,
                    longest_length=LONGEST_LENGTH,
                ),
            )

    def speed(self, quantity: Quantity | None) -> None:
        """A speed that no engine runs at."""
        if quantity is not None and not SLOWEST <= float(quantity.number) <= FASTEST:
            self.fault(
                "engine.speed",
                gettext(
                    "{found} is outside {slowest:g} to {fastest:g} rpm",
                    found=quantity,
                    slowest=SLOWEST,
                    fastest=FASTEST,
                ),
            )

    def angle(self, key: str, angle_stated: Any, low: float, high: float) -> None:
        """An angle that no lobe has."""
        if angle_stated is not None and not low <= float(angle_stated.number) <= high:
            self.fault(
                key,
                gettext(
                    "{angle_stated} is outside {low:g} to {high:g} deg",
                    angle_stated=angle_stated,
                    low=low,
                    high=high,
                ),
            )

    def shape(self, side: str, table: Mapping[str, Any]) -> Values:
        """The measured lobe's arrays, where the table has not the stand-in's keys instead."""
        measured = [name for name in ARRAYS if name in table]
        stand_in = [name for name in STAND_IN if name in table]
        if measured and stand_in:
            self.fault(
                f"{side}.{stand_in[0]}",
                gettext("this or a table of lobe lift: give one of the two"),
            )
        elif stand_in:
            for name in STAND_IN:
                if name not in table:
                    self.fault(
                        f"{side}.{name}",
                        gettext("missing; {stand_in} needs it", stand_in=stand_in[0]),
                    )
        elif not measured:
            message = gettext(
                "missing; give angle, lobe_lift and lift_unit, or duration and max_lobe_lift"
            )
            self.fault(f"{side}.angle", message)
        return self.arrays(side, table) if measured else {}

    def arrays(self, side: str, table: Mapping[str, Any]) -> Values:
        """Lobe lift over crank angle."""
        unit = self.unit("lift_unit", table, LIFT_UNITS, side)
        angles, lifts = (self.numbers(side, name, table) for name in ("angle", "lobe_lift"))
        if angles is not None:
            self.rising(side, angles)
        if lifts is not None:
            self.lobe_lifts(side, lifts, unit)
        if angles is not None and lifts is not None and len(angles) != len(lifts):
            self.fault(
                f"{side}.lobe_lift",
                gettext("{count} lifts for {count2} angles", count=len(lifts), count2=len(angles)),
            )
        return {"angles": angles, "lifts": lifts, "lift_unit": unit}

    def numbers(self, side: str, name: str, table: Mapping[str, Any]) -> tuple[Decimal, ...] | None:
        """An array of numbers; None where it has a fault."""
        column, key = table.get(name), f"{side}.{name}"
        if not isinstance(column, list | tuple):
            wrong = gettext("must be an array, not {shown}", shown=shown(column))
            self.fault(key, gettext("missing") if column is None else wrong)
            return None
        if len(column) < FEWEST_POINTS:
            self.fault(
                key,
                gettext(
                    "{count} points are too few: give {fewest_points} or more",
                    count=len(column),
                    fewest_points=FEWEST_POINTS,
                ),
            )
            return None
        clean = []
        for row, item in enumerate(column, start=1):
            try:
                clean.append(number(item))
            except RefusedError as refused:
                self.fault(
                    f"{key}[{row}]", gettext("row {row}: {refused}", row=row, refused=refused)
                )
        return tuple(clean) if len(clean) == len(column) else None

    def rising(self, side: str, angles: tuple[Decimal, ...]) -> None:
        """Angles rise strictly, and within a cycle."""
        for row, (last, angle) in enumerate(pairwise(angles), start=2):
            if float(angle) - float(last) < LEAST_STEP:
                message = gettext(
                    "row {row}: {angle} is not above the angle before it, {last}",
                    row=row,
                    angle=shown(angle),
                    last=shown(last),
                )
                self.fault(f"{side}.angle[{row}]", message)
        span = float(angles[-1]) - float(angles[0])
        if not SHORTEST <= span <= LONGEST:
            message = gettext(
                "a lobe of {span:g} deg is outside {shortest:g} to {longest:g} deg",
                span=span,
                shortest=SHORTEST,
                longest=LONGEST,
            )
            self.fault(f"{side}.angle", message)

    def lobe_lifts(self, side: str, lifts: tuple[Decimal, ...], unit: str | None) -> None:
        """Lifts are not negative, and nothing at both ends."""
        for row, lift in enumerate(lifts, start=1):
            if to_si(float(lift), unit or "m") > LONGEST_LENGTH:
                message = gettext(
                    "row {row}: {lift} is above {longest:g} m",
                    row=row,
                    lift=shown(lift),
                    longest=LONGEST_LENGTH,
                )
                self.fault(f"{side}.lobe_lift[{row}]", message)
            elif lift < 0:
                self.fault(
                    f"{side}.lobe_lift[{row}]",
                    gettext("row {row}: {shown} is below 0", row=row, shown=shown(lift)),
                )
            elif lift and row in (1, len(lifts)):
                message = gettext(
                    "row {row}: {lift} where the lobe ends; both ends must be 0",
                    row=row,
                    lift=shown(lift),
                )
                self.fault(f"{side}.lobe_lift[{row}]", message)
        if not any(lifts):
            self.fault(f"{side}.lobe_lift", gettext("no lift above 0"))

    def opening(self, side: str, lobe: LobeDocument) -> LobeDocument:
        """A lobe that opens its valve."""
        of_side: Side = "intake" if side == "intake" else "exhaust"
        try:
            lobe.motion(of_side)
        except ValueError:
            self.fault(
                f"{side}.lash",
                gettext("{lash} leaves no valve lift: check ratio and lash", lash=lobe.lash),
            )
        return lobe
