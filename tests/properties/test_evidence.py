"""Does a reading weigh as its density says, and never contradict the outcome it belongs to?"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.evidence import CIRCUIT_WORD, Joint, Witness, witness
from engine.evidence import Testimony as Says
from engine.evidence.make import NothingKnown, apply_markings, like
from engine.evidence.table import UNLISTED, UNLISTED_IF_FAR, UNLISTED_OTHERWISE
from engine.readings import bands
from engine.readings.bands import Answer
from tests.sampled_rail import FEED, RAIL, rail_model, rail_readings

VOLTS = st.floats(min_value=0.0, max_value=20.0)


@pytest.fixture(scope="module")
def heard() -> Witness:
    """The invented rail with its simulated readings."""
    return witness(rail_model(), rail_readings())


def said(heard: Witness, text: str, test=RAIL) -> Says:
    """What a reading says; there is always something."""
    found = Joint(heard).weigh(bands.read(text, test))
    assert found is not None
    return found


def within(heard: Witness, low: float, high: float) -> Says:
    """What a range of volts says."""
    answer = Answer("rail", (("low", 1.0),), "", low, high, "V")
    found = Joint(heard).weigh(answer)
    assert found is not None
    return found


def test_a_density_is_one_over_all_bands(heard):
    """Every cell's masses sum to one, kernels and background alike."""
    for test in (RAIL, FEED):
        for fault in heard.model.faults:
            masses = [
                heard.density(test, fault.id).mass(b.low, b.high) for b in bands.bands(test)
            ]
            assert math.isclose(sum(masses), 1.0, abs_tol=1e-9)


def test_a_whole_band_says_what_its_outcome_says(heard):
    """Integrated over a band, the law is the told row of rules and circuit mixed."""
    for band in bands.bands(RAIL)[1:3]:
        found = within(heard, band.low, band.high)
        told = {}
        for fault in heard.model.faults:
            odds = Joint(heard).odds(RAIL, fault.id)
            right = 1.0 - sum(RAIL.misread.get(band.outcome, {}).values())
            told[fault.id] = right * odds[band.outcome] + sum(
                p * RAIL.misread.get(other, {}).get(band.outcome, 0.0)
                for other, p in odds.items()
                if other != band.outcome
            )
        most = max(told.values())
        for fault, factor in found.factors.items():
            assert math.isclose(factor, told[fault] / most, rel_tol=1e-6), fault


@given(VOLTS)
def test_no_reading_rules_a_fault_out(volts):
    """Tails are heavy: whatever is read, each fault keeps a part, and the best one is 1."""
    heard = witness(rail_model(), rail_readings())
    found = Joint(heard).weigh(bands.read(f"{volts:.4f} V", RAIL))
    assert found is not None
    assert math.isclose(max(found.factors.values()), 1.0)
    assert min(found.factors.values()) > 1e-4


def test_a_number_that_no_unit_shows_is_no_excuse_for_a_short(heard):
    """Another maker's rail may stand at 5.6 V, and nobody's shorted one: neither as a surprise nor
    as a misreading does an odd number of the sound band speak for what pulls the rail to nothing.
    Bounds of our own: four and ten times the half percent that this test is misread."""
    for volts, most in (("4.8 V", 0.02), ("5.6 V", 0.05)):
        factors = said(heard, volts).factors
        for fault in ("load-short", "feed-open"):
            assert factors[fault] < most * factors["no-fault"], (volts, fault)


@given(st.floats(min_value=0.1, max_value=20.0))
def test_a_digit_more_or_less_says_nearly_the_same(volts):
    """The odds move smoothly, through the cuts, too."""
    heard = witness(rail_model(), rail_readings())
    here, there = said(heard, f"{volts:.3f} V"), said(heard, f"{volts + 0.01:.3f} V")
    for fault, factor in here.factors.items():
        if factor > 0.02:
            assert 1 / 2.5 < there.factors[fault] / factor < 2.5


def test_two_readings_of_one_band_are_different_evidence(heard):
    """3.6 V speaks for the weak feed, 1.6 V for the heavy load; their band is the same, and that is
    all the rules' fifth of the word knows."""
    high, low = said(heard, "3.6 V").factors, said(heard, "1.6 V").factors
    assert high["feed-weak"] > 3 * high["load-heavy"]
    assert low["load-heavy"] > 3 * low["feed-weak"]


def test_over_range_is_a_mass_of_its_own(heard):
    """Only the open feed reads over range; a band "above" has it, too, for the rules' fifth."""
    found = said(heard, "OL", FEED).factors
    assert found["feed-open"] == 1.0
    assert all(p < 0.25 for fault, p in found.items() if fault != "feed-open")


def test_a_sibling_across_the_cut_is_no_misreading(heard):
    """One sibling with a weak feed reads 4.2 V, in the band of a sound one."""
    found = said(heard, "4.2 V")
    assert found.factors["feed-weak"] > 0.2
    assert found.slips["feed-weak"] < 0.05


def test_words_of_a_measured_test_are_left_to_the_rules(heard):
    """An outcome's name carries no number."""
    assert Joint(heard).weigh(bands.read("low", RAIL)) is None


def test_without_a_dictionary_a_reading_is_its_band():
    """Nothing simulated: the model's rows speak alone."""
    assert Joint(witness(rail_model())).weigh(bands.read("3.1 V", RAIL)) is None


def test_a_fault_that_was_not_simulated_goes_by_its_row(heard):
    """What is not listed reads anything in the band that the rules give it; but for designs that
    act otherwise, which are moved towards what the test shows under any fault."""
    assert not heard.read(RAIL, "other")
    low, high = said(heard, "0.6 V").factors["other"], said(heard, "3.9 V").factors["other"]
    assert low > 0
    assert high > 0
    joint = Joint(heard)
    every = {f.id: joint.odds(RAIL, f.id)["low"] for f in heard.model.faults}
    most = max(every.values()) - 0.25
    assert min(every.values()) < 0.25
    assert abs(every["other"] - 0.25) <= UNLISTED * UNLISTED_OTHERWISE * most


def test_both_words_count(heard):
    """The rules say low for sure; one sibling of five reads as due: the mixture says so."""
    odds = Joint(heard).odds(RAIL, "feed-weak")
    assert (1 - CIRCUIT_WORD) < odds["low"] < 1.0
    assert odds["as-due"] > 0.05


def test_a_marking_narrows_to_its_design():
    """With 330 kΩ read off the part, only that design's sibling is left."""
    make = apply_markings(NothingKnown, rail_readings(), {"R2": 330e3})
    heard = witness(rail_model(), rail_readings(), make)
    found = said(heard, "329 kΩ", FEED)
    assert found.factors["no-fault"] > 0.5
    assert heard.density(FEED, "no-fault").mass(440e3, 500e3) < 0.1


def test_a_marking_that_no_design_is_near_makes_an_unlisted_design_likelier():
    """Nothing was simulated of a unit with a tenth of the feed: half the odds are on none."""
    make = apply_markings(NothingKnown, rail_readings(), {"R2": 47e3})
    assert make.far == {"R2"}
    heard = witness(rail_model(), rail_readings(), make)
    assert Joint(heard).prior[-1] == UNLISTED_IF_FAR
    plain = Joint(witness(rail_model(), rail_readings())).weigh(bands.read("3.7 V", RAIL))
    far = Joint(heard).weigh(bands.read("3.7 V", RAIL))
    assert plain is not None
    assert far is not None
    assert max(plain.factors.values()) / min(plain.factors.values()) > (
        max(far.factors.values()) / min(far.factors.values())
    )


def test_a_good_unit_moves_what_is_due():
    """An identical good unit reads 4.40 V: then 4.40 V is sound, and 4.8 V less so."""
    make = like(NothingKnown, rail_readings(), "no-fault", {"rail": 4.40})
    heard, plain = (
        witness(rail_model(), rail_readings(), make),
        witness(rail_model(), rail_readings()),
    )
    assert heard.density(RAIL, "no-fault").share(4.4) > plain.density(RAIL, "no-fault").share(4.4)
    assert heard.density(RAIL, "no-fault").share(4.8) < plain.density(RAIL, "no-fault").share(4.8)
