"""The cases a comparison must survive, and what came of them."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shopflow import testfile
from shopflow.calc.area_gain import AreaGain
from shopflow.calc.cam import SineSquaredLobe, ValveMotion
from shopflow.calc.cam_gain import compare_over_cams
from shopflow.calc.comparison import Comparison, compare
from shopflow.calc.reduction import Reduction
from shopflow.calc.verdicts import Verdict
from shopflow.testfile import toml_text
from tests.optional import present
from tests.simulation.points import calibrated
from tests.simulation.shop import TEN_LIFTS, Bench, Uncertain, drawn, session_file

FOUR_LIFTS = (1.0, 4.0, 7.0, 10.0)
PRECISE = Uncertain(0.001, 0.1, 0.003, 0.001, 0.01, 0.05, 0.001)
CAREFUL = Uncertain(0.003, 0.2, 0.006, 0.002, 0.01, 0.1, 0.002)
BENCH = Bench()
CAM = ValveMotion(SineSquaredLobe(280.0, 10.8e-3), 108.0, lash=0.2e-3)
"""Goes beyond the last lift of every test."""

WARM = {"hectopascal": 960.0, "celsius": 27.0, "test_pressure": 23.0}
MOUNTAIN = {"hectopascal": 701.0, "celsius": 15.0}
CURVED = BENCH.but(is_curved=True)
RESTRICTION = BENCH.but(is_restriction=True)


def alone(**large: float) -> Uncertain:
    """One input large, the others small."""
    small = {
        "scatter": 0.0008, "division": 0.1, "calibration": 0.001, "pressure": 0.0005,
        "lift": 0.002, "leakage": 0.02, "density": 0.0005,
    }  # fmt: skip
    return Uncertain(**(small | large))


def both(first: Bench, **changes: Any) -> tuple[Bench, Bench]:
    return first, first.but(**changes)


UNCHANGED: dict[str, tuple[Bench, Bench]] = {
    "same day": both(BENCH),
    "another day, another pressure": both(
        BENCH, hectopascal=970.0, celsius=30.0, test_pressure=15.0
    ),
    "restriction, sea level and 3,000 m": both(RESTRICTION, **MOUNTAIN),
    "another bench": both(BENCH, name="south", gauge="G2"),
    "lifts 4 against 10": both(BENCH.but(lifts=FOUR_LIFTS, uncertain=PRECISE), lifts=TEN_LIFTS),
    "exhaust, another day": both(BENCH.but(side="exhaust"), hectopascal=985.0, celsius=26.0),
    "scatter": both(BENCH.but(uncertain=alone(scatter=0.015))),
    "scatter, three runs against two": both(
        BENCH.but(uncertain=alone(scatter=0.015), runs=3), runs=2
    ),
    # In another air, so that the readings are not rounded alike.
    "resolution": both(BENCH.but(uncertain=alone(division=2.0)), **WARM),
    "resolution, one run": both(
        BENCH.but(uncertain=alone(division=2.0, scatter=0.0), runs=1), **WARM
    ),
    "lift zero": both(BENCH.but(uncertain=alone(lift=0.08))),
    "leakage": both(BENCH.but(uncertain=alone(leakage=0.8))),
    "density, volume meter": both(BENCH.but(uncertain=alone(density=0.015))),
    "density, restriction": both(RESTRICTION.but(uncertain=alone(density=0.03))),
    "calibration, two benches": both(BENCH.but(uncertain=alone(calibration=0.02)), name="south"),
    "one gauge, two pressures": both(BENCH.but(uncertain=alone(pressure=0.03)), test_pressure=10.0),
    "two gauges": both(BENCH.but(uncertain=alone(pressure=0.015)), gauge="G2"),
    "one lift each": both(BENCH.but(lifts=(6.0,), runs=3, uncertain=CAREFUL)),
}
"""The head is the same: whatever is called is called falsely."""

GAINED: dict[str, tuple[Bench, Bench]] = {
    "3 %, careful": both(BENCH.but(uncertain=CAREFUL)),
    "3 %, lifts 10 against 4": both(BENCH.but(uncertain=CAREFUL), lifts=FOUR_LIFTS),
    "3 %, another day": both(BENCH, hectopascal=970.0, celsius=30.0, test_pressure=15.0),
}
BY_POINTS: dict[str, tuple[Bench, Bench]] = {
    "points, two pressures": both(CURVED, test_pressure=15.0),
    "points, lifts 4 against 10": both(CURVED.but(lifts=FOUR_LIFTS), lifts=TEN_LIFTS),
    "3 %, points": both(CURVED.but(uncertain=CAREFUL), test_pressure=15.0),
}
"""A bench that does not read in proportion, calibrated by points."""

GAIN = 0.03
CASES = UNCHANGED | GAINED | BY_POINTS


@dataclass
class Outcome:
    """Outcome of the pairs of a case."""

    comparisons: list[Comparison] = field(default_factory=list)
    gain: float = 0.0
    cams: list[AreaGain] = field(default_factory=list)
    """The mean over a cam of each pair."""

    def first(self, pairs: int) -> Outcome:
        """The same of the first so many pairs."""
        return Outcome(self.comparisons[:pairs], self.gain, self.cams[:pairs])

    @property
    def any_called(self) -> float:
        """Share of pairs in which any lift was called a gain or loss."""
        return float(np.mean([any(map(is_called, self._verdicts(c))) for c in self.comparisons]))

    @property
    def lifts_called(self) -> float:
        """Share of judged lifts that were called."""
        every = [
            is_called(verdict)
            for comparison in self.comparisons
            for verdict in self._verdicts(comparison)
            if verdict != Verdict.NOT_STATED
        ]
        return float(np.mean(every))

    @property
    def mean_called(self) -> float:
        return float(np.mean([is_called(c.mean_verdict) for c in self.comparisons]))

    @property
    def cam_called(self) -> float:
        """Share of pairs in which the mean over the cam was called a gain or loss."""
        return float(np.mean([is_called(cam.verdict) for cam in self.cams]))

    @property
    def cam_means(self) -> NDArray[np.float64]:
        """Error and expanded uncertainty of the gain over the cam of each pair, percent."""
        rows = [(cam.gain - self.gain, cam.expanded_uncertainty) for cam in self.cams]
        return 100.0 * np.array(rows)

    @property
    def means(self) -> NDArray[np.float64]:
        """Error and expanded uncertainty of the mean gain of each pair, percent."""
        return np.array(
            [
                (present(c.mean_area_gain_percent) - 100.0 * self.gain,
                 c.mean_area_gain_expanded_uncertainty_percent)
                for c in self.comparisons
            ]
        )  # fmt: skip

    @property
    def lifts(self) -> NDArray[np.float64]:
        """The same of every judged lift."""
        return np.array(
            [
                (point.area_gain_percent - 100.0 * self.gain,
                 point.area_gain_expanded_uncertainty_percent)
                for c in self.comparisons
                for point in c.points
                if point.area_gain_expanded_uncertainty_percent is not None
            ]
        )  # fmt: skip

    @staticmethod
    def _verdicts(comparison: Comparison) -> list[Verdict]:
        return [point.verdict for point in comparison.points]


def is_called(verdict: Verdict) -> bool:
    return verdict in (Verdict.GAIN, Verdict.LOSS)


def coverage(errors: NDArray[np.float64]) -> float:
    """Share of errors within their stated uncertainty."""
    return float(np.mean(np.abs(errors[:, 0]) <= errors[:, 1]))


def padding(errors: NDArray[np.float64]) -> float:
    """Stated uncertainty over 1.96 times the errors made, root mean square of each over its own."""
    return float(1.0 / (1.96 * np.sqrt(np.mean((errors[:, 0] / errors[:, 1]) ** 2))))


def simulate(name: str, pairs: int, seed: int) -> Outcome:
    """So many pairs of session files of a case, compared."""
    before, after = CASES[name]
    gain = GAIN if name.startswith("3 %") else 0.0
    rng = np.random.default_rng([seed, list(CASES).index(name)])
    outcome = Outcome(gain=gain)
    for _ in range(pairs):
        first, second = reduced(*files(before, after, rng, gain))
        outcome.comparisons.append(compare(first, second))
        outcome.cams += compare_over_cams(first, second, [CAM]).parts
    return outcome


def files(before: Bench, after: Bench, rng: np.random.Generator, gain: float) -> tuple[str, str]:
    first = drawn(before, rng, None, before)
    second = drawn(after, rng, first, before)
    if before.is_curved:
        points = calibrated(rng, first.calibration)
        before, after = before.but(points=points), after.but(points=points)
    return session_file(before, first, rng), session_file(after, second, rng, gain)


def compare_files(before: str, after: str) -> Comparison:
    """As `shopflow compare` does, but for the printing."""
    return compare(*reduced(before, after))


def reduced(*texts: str) -> list[Reduction]:
    """Figures of session files, by the one calculation that checks each as it is read."""
    return [toml_text.loads(text, testfile.reduced)[1] for text in texts]
