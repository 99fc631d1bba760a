"""The scale that readings of a test are weighed on, and how uncertain a meter is there."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.model.records import Model, Test
from engine.readings.bands import possible
from kb.quantities import OHM, in_base

Floats = NDArray[np.float64]

# Ohms are read less exactly than the rest; the sources of both stand below.
METER_SHARE = {OHM: 0.008}
METER_SHARE_ELSE = 0.005
"""Accuracy of a bench meter as a share of the reading, two digits come on top: 0.5 % for volts,
0.8 % for ohms (IDEAL, PeakTech and Elenco manuals); read as one standard deviation."""
TWO_DIGITS = 0.002
"""Two digits of a display of 2000 counts, somewhere in its range: a thousandth to a hundredth."""
ENDS = {OHM: 6e7}
"""Where a meter's highest ohm range ends: 20 to 60 megohms (meter manuals)."""
LEADS_OHMS = 0.3
"""What two leads and their contacts read, and so how well small resistances are told apart: common
practice, 0.2 to 0.5 ohm."""
EDGE = 0.02
"""A rule's cut is no edge of nature: between some 5 % under and over it a reading passes from one
band's share to the other's (a logistic step). Our choice."""
_CUTS_TO_BEND = 25.0
"""The scale bends to a straight one at a 25th of its lowest cut, far under what any rule asks. Our
choice."""


@dataclass(frozen=True, slots=True)
class Scale:
    """asinh(x/bend) between `low` and `high` (of x, base unit).

    `ranges` tells whether the instrument can show over range.
    """

    unit: str
    bend: float
    low: float
    high: float
    ranges: bool

    def at(self, value: float) -> float:
        """A reading's place on the scale; ends of the scale for what lies beyond."""
        return math.asinh(min(max(value, self.low), self.high) / self.bend)

    @property
    def span(self) -> float:
        """Length of the scale."""
        return self.at(self.high) - self.at(self.low)

    def inside(self, value: float, low: float, high: float) -> float:
        """How far a reading counts as one of [low, high): 1 well inside, a half on the cut."""
        return self._beyond(value, low) - self._beyond(value, high)

    def _beyond(self, value: float, cut: float) -> float:
        if cut <= self.low or math.isinf(cut):
            return 1.0 if cut < value or cut <= self.low else 0.0
        return 0.5 * (1.0 + math.tanh((self.at(value) - self.at(cut)) / (2.0 * EDGE)))

    def widths(self, values: Floats) -> Floats:
        """Standard deviation of reading each value, on the scale: the meter and its digits."""
        share = METER_SHARE.get(self.unit, METER_SHARE_ELSE) + TWO_DIGITS
        absolute = np.hypot(share * values, self.bend)
        spread: Floats = absolute / np.hypot(values, self.bend)
        return spread


def scale(model: Model, test: Test) -> Scale | None:
    """The scale of a measured test; None for one that is not read off a meter."""
    bands = [o for o in test.outcomes if o.unit is not None]
    if not bands:
        return None
    unit = in_base(1.0, str(bands[0].unit)).unit
    cuts = [in_base(o.low, str(o.unit)).value for o in bands if o.low]
    bend = min((abs(cut) for cut in cuts), default=1.0) / _CUTS_TO_BEND
    if unit == OHM:
        bend = min(bend, LEADS_OHMS)
    low, high = possible(unit, model.arrangement(test.supply))
    low = 0.0 if all(cut >= 0 for cut in cuts) else low
    ranges = unit in ENDS and any(o.high is None for o in bands)
    high = min(high, ENDS.get(unit, high))
    high = max([high, *(2 * cut for cut in cuts)])
    return Scale(unit, bend, low, high, ranges)
