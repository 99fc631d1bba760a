"""The density of a test's reading under one fault: kernels around samples, and a background.

All on the scale of `engine.evidence.scale`. Densities are given as shares of the background, which
is even over the scale; so 1 says as likely as a blind guess, 40 forty times as likely.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from engine.evidence.scale import Floats, Scale

SURPRISE = 0.02
"""The background's share: what no sample foresaw. One reading in fifty, our choice."""
OVER_SHARE = 0.2
"""The background's mass of over range, where the instrument can show it. Our choice."""
NARROWEST = 0.03
"""Kernels narrower than 3 % claim more than a handful of samples knows of parts within 5 %. Our
choice."""
_MEGOHMS_OVER = (1e7, 6e7)
"""Ohms that the first meters show as over range, and that the last do: from half of the 20 to 60
megohms at which highest ranges end (meter manuals) to the last of them. The half is our choice."""
CHIP_PATH, CHIP_PATH_OHMS, CHIP_PATH_SPREAD = 0.2, 3e5, 1.5
"""How often an ohm range reads a path through a chip's pins where a circuit without them shows over
range, at what ohms, and how widely spread on a scale of ratios: from some tens of kilohms to
megohms, by the meter's volts and the chip. Common practice, no source."""


@dataclass(frozen=True, slots=True, eq=False)
class Density:
    """A mixture over one scale: kernel `centres` and `widths` with `weights`, mass `over` range.

    Weights sum to 1 - over. No kernels at all: the background alone. Nobody may write to its
    arrays: equal readings share one density.
    """

    scale: Scale
    centres: Floats
    widths: Floats
    weights: Floats
    over: float

    def mass(self, low: float, high: float) -> float:
        """Odds of a reading in [low, high), over range included where high is infinite."""
        blind = self.blind(low, high)
        if not len(self.weights) and not self.over:
            return blind
        start, end = self._between(low, high)
        kernels = float(self.weights @ (student_below(end) - student_below(start)))
        beyond = self.over if high == math.inf else 0.0
        return (1 - SURPRISE) * (kernels + beyond) + SURPRISE * blind

    def under(self, values: Floats) -> Floats:
        """What part of the kernels lies under each value (base unit); over range is under none."""
        return _under(self, values.tobytes())

    def cells(self, edges: Floats) -> Floats:
        """Masses between even steps of the scale, and last of all that of over range.

        `edges` are places on the scale from its one end to its other.
        """
        numbers = 1.0 - OVER_SHARE if self.scale.ranges else 1.0
        even = np.append(np.full(len(edges) - 1, numbers / (len(edges) - 1)), 1.0 - numbers)
        if not len(self.weights) and not self.over:
            return even
        ends = edges.copy()
        ends[0], ends[-1] = -math.inf, math.inf
        below = student_below((ends[:, None] - self.centres) / self.widths)
        kernels = np.append(np.diff(below, axis=0) @ self.weights, self.over)
        mixture: Floats = (1 - SURPRISE) * kernels + SURPRISE * even
        return mixture

    def share(self, value: float) -> float:
        """Density at a reading as a share of the background; infinite `value` is over range."""
        if not len(self.weights) and not self.over:
            return 1.0
        if value == math.inf:
            blind = OVER_SHARE if self.scale.ranges else 1.0
            return (1 - SURPRISE) * self.over / blind + SURPRISE
        away = (self.scale.at(value) - self.centres) / self.widths
        height = float(self.weights @ (student(away) / self.widths))
        numbers = (1.0 - OVER_SHARE if self.scale.ranges else 1.0) / self.scale.span
        return (1 - SURPRISE) * height / numbers + SURPRISE

    def blind(self, low: float, high: float) -> float:
        """The background's odds of [low, high)."""
        scale = self.scale
        part = max(0.0, scale.at(high) - scale.at(low)) / scale.span
        if not scale.ranges:
            return part
        return (1.0 - OVER_SHARE) * part + (OVER_SHARE if high == math.inf else 0.0)

    def _between(self, low: float, high: float) -> tuple[Floats, Floats]:
        """Both ends in kernel widths from each centre; an end of the scale takes all beyond it."""
        scale = self.scale
        start = -math.inf if low <= scale.low else scale.at(low)
        end = math.inf if high >= scale.high else scale.at(high)
        return (start - self.centres) / self.widths, (end - self.centres) / self.widths


def background(scale: Scale) -> Density:
    """The density of who knows nothing but the scale."""
    none = np.zeros(0)
    return Density(scale, none, none, none, 0.0)


def around(
    scale: Scale,
    values: Sequence[float],
    weights: Sequence[float],
    whole: Sequence[float] = (),
) -> Density:
    """The density around simulated readings (base unit, infinite for over range), weighted.

    `whole` are the weights before anything was known of the unit: kernels stay as wide as they make
    them, for fewer siblings left know no more of the unit than many.
    """
    return _around(scale, tuple(values), tuple(weights), tuple(whole))


@lru_cache(maxsize=8192)
def _around(
    scale: Scale, values: tuple[float, ...], weights: tuple[float, ...], whole: tuple[float, ...]
) -> Density:
    """Kept, since faults that a test can't tell apart have the same readings, at each complaint."""
    readings = np.array(values, dtype=np.float64)
    shares = np.array(weights, dtype=np.float64)
    total = float(shares.sum())
    if not len(readings) or total <= 0.0:
        return background(scale)
    shares = shares / total
    over = np.array([over_odds(scale, value) for value in values])
    numbers = (over < 1.0) & (shares > 0.0)
    masses = shares[numbers] * (1.0 - over[numbers])
    centres = np.array([scale.at(value) for value in readings[numbers]])
    widths = scale.widths(np.clip(readings[numbers], scale.low, scale.high))
    spread = spread_of(centres, np.array(whole)[numbers] if len(whole) else masses)
    return Density(
        scale, centres, np.hypot(widths, max(NARROWEST, spread)), masses, float(shares @ over)
    )


@lru_cache(maxsize=4096)
def _under(density: Density, values: bytes) -> Floats:
    """`Density.under`, kept: cuts are sought among the same values for each fault and complaint."""
    scale = density.scale
    inside = np.clip(np.frombuffer(values), scale.low, scale.high)
    places = np.arcsinh(inside / scale.bend)
    away = (places[:, None] - density.centres) / density.widths
    below: Floats = student_below(away) @ density.weights
    below.flags.writeable = False
    return below


def over_odds(scale: Scale, value: float) -> float:
    """Odds that a meter shows over range where this is the true value: ranges end differently."""
    if not scale.ranges or value <= _MEGOHMS_OVER[0]:
        return 0.0
    least, most = _MEGOHMS_OVER
    return min(1.0, math.log(value / least) / math.log(most / least)) if value < most else 1.0


def spread_of(centres: Floats, weights: Floats) -> float:
    """Silverman's width for weighted samples: 0.9 min(deviation, quartiles/1.34) n^(-1/5)."""
    if len(centres) < 2:
        return 0.0
    if not weights.sum() > 0.0:
        return 0.0
    shares = weights / weights.sum()
    deviation = math.sqrt(float(shares @ (centres - shares @ centres) ** 2))
    order = np.argsort(centres, kind="stable")
    steps = np.cumsum(shares[order]) - shares[order] / 2
    first, third = np.interp([0.25, 0.75], steps, centres[order])
    middle = (third - first) / 1.34
    narrow = min(deviation, middle) if middle > 0 else deviation
    return float(0.9 * narrow * (1.0 / float(shares @ shares)) ** -0.2)


def student(away: Floats) -> Floats:
    """Student's density, three degrees of freedom (W. S. Gosset, Biometrika 6, 1908)."""
    height: Floats = 2.0 / (math.pi * math.sqrt(3.0)) / (1.0 + away**2 / 3.0) ** 2
    return height


def student_below(away: Floats) -> Floats:
    """Student's distribution, three degrees of freedom, in closed form."""
    ratio = away / math.sqrt(3.0)
    with np.errstate(invalid="ignore"):
        lean = np.where(np.isfinite(ratio), ratio / (1.0 + ratio**2), 0.0)
    below: Floats = 0.5 + (lean + np.arctan(ratio)) / math.pi
    return below
