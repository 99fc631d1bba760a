"""Figures of how readings spread, and of when rules and circuit agree.

Where no source is named the figure is a choice of ours; each case was worked out by hand.
"""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from engine.circuit import accord
from engine.circuit.dictionary import Sibling
from engine.evidence import density, make, scale
from kb.quantities import OHM, VOLT
from render.terminal import words
from tests.models import simple_test, tiny_model

VOLTS = scale.Scale(VOLT, 0.2, 0.0, 1000.0, ranges=False)
OHMS = scale.Scale(OHM, 0.3, 0.0, 6e7, ranges=True)


def test_what_nobody_foresaw_keeps_a_fiftieth():
    """Far from every sample, of a blind guess; over range too, where no sample goes."""
    assert density.around(VOLTS, [5.0], [1.0]).share(900.0) == pytest.approx(0.02, rel=0.05)
    assert density.around(OHMS, [100.0], [1.0]).share(math.inf) == pytest.approx(0.02)


def test_a_blind_guess_is_over_range_once_in_five():
    """Where the instrument can show it."""
    assert density.background(OHMS).mass(6e7, math.inf) == pytest.approx(0.2)
    assert density.background(VOLTS).mass(1000.0, math.inf) == pytest.approx(0.0)


def test_a_sample_is_no_narrower_than_three_per_cent():
    """With the meter's own 0.7 % in volts on top, as a root of squares: 3.08 %."""
    (width,) = density.around(VOLTS, [300.0], [1.0]).widths
    assert width == pytest.approx(math.hypot(0.03, 0.007), rel=1e-3)


@pytest.mark.parametrize(("on", "share"), [(VOLTS, 0.007), (OHMS, 0.010)])
def test_a_meter_reads_to_its_accuracy_and_two_digits(on, share):
    """0.5 % in volts, 0.8 % in ohms (IDEAL, PeakTech and Elenco manuals), and 0.2 % of digits."""
    assert on.widths(np.array([500.0]))[0] == pytest.approx(share, rel=3e-3)


@pytest.mark.parametrize(
    ("ohms", "odds"), [(9e6, 0.0), (1e7, 0.0), (6e14**0.5, 0.5), (5.9e7, 0.991), (7e7, 1.0)]
)
def test_meters_go_over_range_from_ten_to_sixty_megohms(ohms, odds):
    """Half of them at the middle by ratio, 24.5 megohms."""
    assert density.around(OHMS, [ohms], [1.0]).over == pytest.approx(odds, abs=1e-3)


def test_a_cut_is_passed_within_some_five_per_cent():
    """On the cut a half; 5 % over it 1/(1 + exp(-2.5)) = 0.924, far past the bend."""
    assert VOLTS.inside(100.0, 100.0, math.inf) == pytest.approx(0.5)
    assert VOLTS.inside(105.0, 100.0, math.inf) == pytest.approx(0.924, abs=0.005)
    assert VOLTS.inside(95.0, 100.0, math.inf) == pytest.approx(0.071, abs=0.005)


def test_siblings_count_by_how_near_they_read_to_a_good_unit():
    """One reading alike, one off by a twentieth (exp(-1/2) = 0.6065), one off by ten times, which
    keeps a thousandth: units differ in what no sibling drew."""
    cell = SimpleNamespace(samples=[(None, 100.0), (None, 100.0 * math.exp(0.05)), (None, 1000.0)])
    readings = SimpleNamespace(
        cell=lambda *_: cell, units=[Sibling({}, weight=1.0 / 3) for _ in cell.samples], listed={}
    )
    alike, near, far = make.like(make.NothingKnown, readings, "no-fault", {"rail": 100.0}).weights
    assert near / alike == pytest.approx((0.001 + 0.60653) / 1.001, rel=1e-4)
    assert far / alike == pytest.approx(0.001 / 1.001)


@pytest.mark.parametrize(("odds", "agree"), [(0.29, True), (0.28, False)])
def test_rules_say_an_answer_too_that_has_two_fifths_of_the_likeliest_ones_odds(odds, agree):
    """0.29 of 0.71 is 0.408, 0.28 of 0.72 is 0.389: rules and circuit agree in the first alone."""
    rows = {"t": {"a": {"bad": odds, "good": 1.0 - odds}}}
    model = tiny_model({"a": 1.0}, [simple_test("t")], rows)
    model = replace(model, topology="buck-lamp")
    cell = SimpleNamespace(outcome="bad", value=None, samples=())
    compared = accord.compare(model, SimpleNamespace(cells={"t": {"a": cell}}))
    assert compared.cells == 1
    assert (compared.disagreements == ()) == agree


@pytest.mark.parametrize(("odds", "told"), [(0.011, True), (0.009, False)])
def test_a_verdict_names_what_else_it_could_be_from_one_in_a_hundred(odds, told):
    """The document keeps all."""
    same = {"t": {"a": "bad", "b": "bad"}}
    model = tiny_model({"a": 1.0 - odds, "b": odds}, [simple_test("t")], same)
    remedy = next(r for r in model.remedies if r.cures == ("a",))
    ending = SimpleNamespace(faults=(("a", 1.0 - odds), ("b", odds)), remedy=remedy)
    assert bool([*words.others(model, ending)]) == told
