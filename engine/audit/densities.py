"""Densities of readings as the audit knows them: scale, kernels, background, in plain numbers.

Nothing here is shared with `engine.evidence` but the theory written there.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from engine.audit.bench import Document

# The figures of `engine.evidence` stated anew: `scale` and `density` there say where from. METER is
# accuracy and two digits in one; PREFIX the SI's (SI Brochure ch. 3).
SURPRISE, OVER, NARROWEST, BEND = 0.02, 0.2, 0.03, 25.0
CHIP_PATH, CHIP_OHMS, CHIP_SPREAD = 0.2, 3e5, 1.5
LEADS, OHMS_END, OVER_FROM = 0.3, 6e7, 1e7
METER = {"Ω": 0.010, "else": 0.007}
PREFIX = {"p": 1e-12, "n": 1e-9, "µ": 1e-6, "m": 1e-3, "": 1.0, "k": 1e3, "M": 1e6, "G": 1e9}
# The most that a reading can be, by unit, as `engine.readings.bands` has it.
_MOST = {"V": 1000.0, "A": 20.0, "Ω": 1e11, "F": 1.0, "H": 1000.0, "Hz": 1e8, "W": 4000.0}


@dataclass(frozen=True, slots=True)
class Band:
    """An outcome with its band in the base unit, infinite where it has no bound."""

    outcome: str
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Scale:
    """asinh(x/bend) between two ends (base unit); `ends` where over range can show."""

    bend: float
    low: float
    high: float
    ohms: bool
    ends: bool
    span: float = field(init=False, compare=False)
    """Length of the scale."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "span", self.place(self.high) - self.place(self.low))

    def place(self, value: float) -> float:
        """A reading's place on the scale."""
        return math.asinh(min(max(value, self.low), self.high) / self.bend)

    def blind(self, low: float, high: float) -> float:
        """A blind guess's odds of [low, high), base unit."""
        part = max(0.0, self.place(high) - self.place(low)) / self.span
        if not self.ends:
            return part
        return (1.0 - OVER) * part + (OVER if high == math.inf else 0.0)


@lru_cache(maxsize=4096)
def _stretch(scale: Scale, low: float, high: float) -> tuple[float, float, float]:
    """Where [low, high), base unit, begins and ends on the scale, endless beyond its ends, and a
    blind guess's odds of it: the same for all designs and faults."""
    start = -math.inf if low <= scale.low else scale.place(low)
    end = math.inf if high >= scale.high else scale.place(high)
    return start, end, scale.blind(low, high)


@dataclass(frozen=True, slots=True)
class Kernel:
    """One sampled reading as a density: its place and width on the scale, its odds of over range.

    Without a reading it is a blind guess.
    """

    scale: Scale
    place: float
    width: float
    over: float
    firm: bool = False
    """Known as well of a design that nobody sampled: a good unit reads it."""

    def mass(self, low: float, high: float) -> float:
        """Odds of a reading in [low, high), base unit."""
        start, end, blind = _stretch(self.scale, low, high)
        inside = _student_below((end - self.place) / self.width) - _student_below(
            (start - self.place) / self.width
        )
        inside = (1.0 - self.over) * inside + (self.over if high == math.inf else 0.0)
        return (1.0 - SURPRISE) * inside + SURPRISE * blind

    def height(self, value: float) -> float:
        """Density at a reading over that of a blind guess; infinite is over range."""
        if value == math.inf:
            return (1.0 - SURPRISE) * self.over / (OVER if self.scale.ends else 1.0) + SURPRISE
        numbers = 1.0 - OVER if self.scale.ends else 1.0
        tall = _student((self.scale.place(value) - self.place) / self.width) / self.width
        tall *= 1.0 - self.over
        return (1.0 - SURPRISE) * tall * self.scale.span / numbers + SURPRISE

    def widened(self, spread: float) -> Kernel:
        """The same reading, known less well."""
        width = self.width if self.firm else math.hypot(self.width, spread)
        return Kernel(self.scale, self.place, width, self.over)


def bands_of(test: Document) -> list[Band]:
    """A test's bands, ascending; empty where it is watched."""
    bands = []
    for outcome in test["outcomes"]:
        if outcome.get("unit"):
            one = _unit(str(outcome["unit"]))[0]
            low, high = outcome.get("low"), outcome.get("high")
            bands.append(Band(
                outcome["id"], -math.inf if low is None else low * one,
                math.inf if high is None else high * one,
            ))  # fmt: skip
    return sorted(bands, key=lambda band: band.low)


def _unit(text: str) -> tuple[float, str]:
    """What one of a printed unit is in the base unit, and that unit."""
    plain = {"ohm": "Ω", "kohm": "kΩ", "Mohm": "MΩ"}.get(text, text).replace("μ", "µ")
    match = re.fullmatch(r"([pnµmkMG]?)(V|A|Ω|F|H|Hz|W)", plain)
    return (PREFIX[match[1]], match[2]) if match else (1.0, plain)


def scale_of(test: Document, arrangement: Document) -> Scale:
    """The scale of a measured test on a supply arrangement."""
    unit = next(_unit(str(o["unit"]))[1] for o in test["outcomes"] if o.get("unit"))
    bands = bands_of(test)
    cuts = [band.low for band in bands if math.isfinite(band.low) and band.low]
    ohms = unit == "Ω"
    bend = min((abs(cut) for cut in cuts), default=1.0) / BEND
    most = _MOST.get(unit, math.inf)
    if unit == "V" and float(arrangement["max_volts"]) > 0.0:
        most = min(most, 2.0 * float(arrangement["max_volts"]))
    low = -most if any(cut < 0 for cut in cuts) and not ohms else 0.0
    high = max([min(most, OHMS_END) if ohms else most, *(2.0 * cut for cut in cuts)])
    ends = ohms and any(band.high == math.inf for band in bands)
    return Scale(min(bend, LEADS) if ohms else bend, low, high, ohms, ends)


def over_of(scale: Scale, value: float) -> float:
    """The odds that a meter shows over range at `value` ohms; 0 on other scales."""
    if not scale.ends or value <= OVER_FROM:
        return 0.0
    if value >= OHMS_END:
        return 1.0
    return math.log(value / OVER_FROM) / math.log(OHMS_END / OVER_FROM)


def meter_of(scale: Scale, value: float) -> float:
    """The meter's error where it reads a value, on the scale."""
    reading = min(max(value, scale.low), scale.high)
    share = METER["Ω" if scale.ohms else "else"]
    return math.hypot(share * reading, scale.bend) / math.hypot(reading, scale.bend)


def spread_of(at: Sequence[float], weights: Sequence[float]) -> float:
    """Silverman's width of weighted samples."""
    total = sum(weights)
    if len(at) < 2 or total <= 0.0:
        return 0.0
    shares = (weight / total for weight in weights)
    pairs = sorted(zip(at, shares, strict=True), key=lambda pair: pair[0])
    mean = sum(x * w for x, w in pairs)
    deviation = math.sqrt(sum(w * (x - mean) ** 2 for x, w in pairs))
    steps, run = [], 0.0
    for _, weight in pairs:
        steps.append(run + weight / 2)
        run += weight
    middle = (_between(pairs, steps, 0.75) - _between(pairs, steps, 0.25)) / 1.34
    narrow = min(deviation, middle) if middle > 0.0 else deviation
    return 0.9 * narrow * math.pow(sum(w * w for _, w in pairs), 0.2)


def _between(pairs: Sequence[tuple[float, float]], steps: Sequence[float], level: float) -> float:
    """The quantile of weighted samples, straight between their middles."""
    if level <= steps[0]:
        return pairs[0][0]
    for number in range(1, len(steps)):
        if level <= steps[number]:
            part = (level - steps[number - 1]) / (steps[number] - steps[number - 1])
            return pairs[number - 1][0] + part * (pairs[number][0] - pairs[number - 1][0])
    return pairs[-1][0]


def _student(away: float) -> float:
    return 2.0 / (math.pi * math.sqrt(3.0)) / (1.0 + away * away / 3.0) ** 2


def _student_below(away: float) -> float:
    if math.isinf(away):
        return 0.0 if away < 0.0 else 1.0
    x = away / math.sqrt(3.0)
    return 0.5 + (x / (1.0 + x * x) + math.atan(x)) / math.pi
