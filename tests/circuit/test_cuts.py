"""Do the charts' cut points at test points stand where the simulated readings part?

Cuts of ohms are no part of this: they go by the marking of the part at hand, which siblings of
other designs do not share.
"""

from __future__ import annotations

import pytest

from engine import library
from engine.circuit import dictionary
from engine.evidence import witness
from engine.evidence.cuts import cuts
from engine.model import Mains

PLACED = 0.08
"""Odds of all faults that a rounded cut may misplace beyond the best one. Our choice."""
LAMPS = [(lamp, v, h) for lamp in ("light-controlled-lamp", "buck-lamp")
         for v, h in ((230, 50), (120, 60))]  # fmt: skip


@pytest.mark.parametrize(("lamp", "volts", "hertz"), LAMPS)
def test_cuts_at_test_points_stand_where_readings_part(lamp: str, volts: int, hertz: int) -> None:
    """None misplaces much more than the best cut would."""
    model = library.model(lamp, mains=Mains(volts, hertz))
    made = dictionary.read(lamp, model.mains)
    found = [
        cut for cut in cuts(witness(model, made))
        if model.test(cut.test).point and cut.misplaced - cut.least > PLACED
    ]  # fmt: skip
    assert made is not None
    assert found == []
