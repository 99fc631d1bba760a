"""Do charts' cut points stand where the simulated readings part, within what the rules allow?"""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest

from engine import library
from engine.circuit import dictionary
from engine.evidence import Joint, witness
from engine.evidence.cuts import SLACK, place_cuts, sides_of, starts_of
from engine.evidence.make import values
from engine.model.records import Cut, Mains
from engine.readings.bands import bands, read
from kb.quantities import in_base
from tests.circuit.shipped_units import MAINS
from tests.sampled_rail import RAIL, rail_model, rail_readings

LAMPS = [(lamp, mains) for lamp in ("light-controlled-lamp", "buck-lamp") for mains in MAINS]


@pytest.fixture(scope="module", params=LAMPS, ids=lambda lamp: f"{lamp[0]}-{lamp[1].volts:g}")
def lamp(request):
    """A shipped unit's model, and the readings its cut points were placed by."""
    topology, mains = request.param
    return library.model(topology, mains=mains), dictionary.read(topology, mains)


def moved_cuts(model):
    """Every cut that readings or limits moved from its rule's, with where it is now."""
    for test in model.tests:
        for cut in test.cuts:
            now = test.outcome(cut.below).high
            if now is not None and now != cut.rule:
                yield test, cut, now


def misplaced_odds(evidence, test, above, cut):
    """Odds of all faults that a cut (base unit) under outcome `above` puts on its wrong side."""
    sides = sides_of(evidence, test, starts_of(test), above)
    return float(sides.misplaced_odds(np.array([cut]))[0])


def rail_cut(least=None, most=None):
    """The invented rail, the rules' cut between low and as due at 4 V, with limits."""
    cuts = tuple(
        Cut(low.id, high.id, low.high, *((least, most) if high.id == "as-due" else (None, None)))
        for low, high in itertools.pairwise(RAIL.outcomes)
    )
    model = rail_model()
    tests = tuple(replace(t, cuts=cuts) if t.id == RAIL.id else t for t in model.tests)
    made = place_cuts(replace(model, tests=tests), rail_readings(), {})
    return next(c for c in made.test(RAIL.id).cuts if c.above == "as-due"), made.test(RAIL.id)


def test_no_cut_misplaces_more_than_the_rules_own(lamp):
    """Moving a cut loses nothing: odds on its wrong side are at most those at the rule's sum."""
    model, made = lamp
    heard = witness(model, made)
    for test, cut, now in moved_cuts(model):
        one = in_base(1.0, test.outcomes[0].unit).value
        before, after = (misplaced_odds(heard, test, cut.above, x * one) for x in (cut.rule, now))
        assert after <= before + SLACK, (test.id, cut)


def test_a_cut_that_readings_moved_stands_where_they_part(lamp):
    """Inside the region that is told with it; where a limit held it back, at its edge or outside.
    """
    for _, cut, now in moved_cuts(lamp[0]):
        assert cut.parts is not None
        low, high = cut.parts
        assert low <= now <= high if cut.by == "readings" else not low < now < high, cut


def test_cuts_keep_within_the_rules_limits(lamp):
    """A data sheet's limit, a tolerance: no reading moves a cut across."""
    for test in lamp[0].tests:
        for cut in test.cuts:
            high = test.outcome(cut.below).high
            assert cut.at_least is None or high >= cut.at_least
            assert cut.at_most is None or high <= cut.at_most


def test_the_unit_as_listed_does_not_read_as_faulty_at_a_test_point(lamp):
    """Bands on paper are those of the unit as listed: its reading falls in a sound unit's answer.
    """
    model, made = lamp
    for test in model.tests:
        cell = made.cell(test.id, "no-fault")
        if not test.point or not bands(test) or cell is None or test.id.startswith("rail"):
            continue
        row = model.row(test.id, "no-fault")
        healthy = max(row, key=lambda outcome: row[outcome])
        value = values(cell)[0]
        assert value is None or dictionary.band_of(test, value) == healthy, (test.id, value)


def test_no_sound_unit_of_the_family_is_taken_for_faulty_by_one_reading(lamp):
    """Other designs read otherwise than the listed one; as evidence none of their readings makes a
    sound unit less than a twentieth as likely as the fault that fits best."""
    model, made = lamp
    joint = Joint(witness(model, made))
    for test in model.tests:
        cell = made.cell(test.id, "no-fault")
        if not test.point or not bands(test) or cell is None:
            continue
        unit = made.measures[test.id]
        for value in values(cell)[1:]:
            if value is None or not math.isfinite(value):
                continue
            answer = read(f"{max(value, 0.0):.4g} {unit}", test, model.arrangement(test.supply))
            assert joint.weigh(answer).factors["no-fault"] > 0.05, (test.id, value)


def test_bands_stay_whole_and_in_order(lamp):
    """One ends where the next begins."""
    for test in lamp[0].tests:
        known = bands(test)
        for low, high in itertools.pairwise(known):
            assert low.high == high.low
            assert low.low < low.high


def test_what_a_sound_unit_shows_is_told_with_the_placed_band(lamp):
    """No bracket is left over, and the numbers are those of the band."""
    for test in lamp[0].tests:
        assert "[" not in test.good
        if test.id.startswith("volts-") and test.good[:1].isdigit():
            healthy = next(o for o in test.outcomes if o.id == "as-due")
            assert read(test.good.split(" to ")[0], test).low == healthy.low


def test_each_mains_has_its_own_bands():
    """The ripple a bulk capacitor may show differs by more than the mains do."""
    ripple = [library.model("light-controlled-lamp", mains=m).test("ripple-TP4") for m in MAINS]
    assert ripple[0].outcomes[0].high != ripple[1].outcomes[0].high
    assert ripple[1].cuts[0].by != "rule"


def test_a_cut_moves_to_where_the_invented_readings_part():
    """Sound siblings read 4.6 V up, the weak feed 3.2 V to 4.2 V: the rule's 4 V is too low."""
    cut, test = rail_cut()
    heard = witness(rail_model(), rail_readings())
    tried = np.geomspace(1.0, 6.0, 200)
    best = min(misplaced_odds(heard, RAIL, "as-due", float(value)) for value in tried)
    assert misplaced_odds(heard, RAIL, "as-due", test.outcome("as-due").low) <= best + 2 * SLACK
    assert cut.by == "readings"
    assert cut.rule == 4.0


def test_a_rules_limit_holds_a_cut_back():
    """Wherever the readings part, the cut stays between what the rule allows."""
    low, low_test = rail_cut(None, 2.0)
    high, high_test = rail_cut(5.0, None)
    assert low_test.outcome("as-due").low == 2.0
    assert high_test.outcome("as-due").low == 5.0
    assert low.by == high.by == "limit"


def test_without_readings_the_rules_sums_stand():
    """A topology without a circuit: every cut is the rule's own."""
    for test in library.model("enabled-lamp", mains=Mains(230, 50)).tests:
        for cut in test.cuts:
            assert (cut.by, cut.parts) == ("rule", None)
            assert test.outcome(cut.below).high == cut.rule
