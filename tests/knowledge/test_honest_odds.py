"""Odds of what eyes, meters and loose joints show: neither 0 nor 1 where no physics is behind it.

The figures are those benches argue about (common practice, no source); the limits of resistors and
rails are worked out here from tolerances, meters and data sheets.
"""

from __future__ import annotations

from functools import cache

import pytest

from engine import library
from engine.model.records import Mains

PLAIN, LIT, OWN = "buck-lamp", "light-controlled-lamp", "enabled-lamp"


@cache
def model(topology, volts=230, hertz=50):
    return library.model(topology, mains=Mains(volts, hertz), having=library.everything())


def odds(topology, test, fault, outcome):
    return model(topology).row(test, fault)[outcome]


def read_as(topology, test, really, read):
    return model(topology).test(test).misread[really].get(read, 0.0)


def cut_under(topology, test, outcome, volts=230, hertz=50):
    return model(topology, volts, hertz).test(test).outcome(outcome).high


# ---- eyes ----


def test_a_blown_fuse_looks_blown_more_often_than_not_and_a_spent_one_seldom():
    assert 0.5 <= odds(PLAIN, "look-driver", "C1-short-took-R1", "burnt") <= 0.7
    assert odds(PLAIN, "look-driver", "R1-open", "burnt") == pytest.approx(0.3)
    assert 0.7 <= odds(PLAIN, "look-driver", "RV1-short", "burnt") < 1


def test_a_sound_board_is_taken_for_a_burnt_one_now_and_then():
    """And at the second look as well: what is no mark but looks like one belongs to the board."""
    for shows in ("burnt", "bulged", "cracked"):
        assert 0.01 <= odds(PLAIN, "look-driver", "no-fault", shows) <= 0.1
        assert read_as(PLAIN, "look-driver", "nothing", shows) < 0.01


# ---- loose joints ----


@pytest.mark.parametrize("fault", ["J1-loose-moved", "J2-loose-moved", "L2-joint", "BR1-joint"])
def test_what_comes_and_goes_is_often_dark_in_the_known_good_socket_or_lights(fault):
    row = model(PLAIN).row("known-good-socket", fault)
    assert row["dark"] == pytest.approx(0.3)
    assert row["lights-well"] == pytest.approx(0.15)  # it may behave while somebody watches
    assert row["flickers"] == pytest.approx(0.55)


def test_something_unlisted_that_flickers_flickers_each_time():
    """It shows one light, whatever the test."""
    row = model(PLAIN).row("known-good-socket", "other-flickers")
    assert row["flickers"] == 1
    assert model(PLAIN).row("light-on-limited-mains", "other-flickers")["unsteady"] == 1


def test_taps_miss_a_loose_joint_a_quarter_of_the_time():
    assert 0.2 <= read_as(PLAIN, "tap-it", "changes", "same") <= 0.3


# ---- meters ----


def test_a_good_resistor_reads_above_its_mark_now_and_then():
    """Charge and contact 2 to 5 of a hundred; a wrong part and a slip of the finger beside it."""
    assert 0.04 <= read_as(PLAIN, "ohms-R3", "at-or-below", "above") <= 0.12
    assert 0.02 <= read_as(PLAIN, "ohms-R1", "at-or-below", "open") <= 0.05


def test_parts_that_only_their_ends_tell_are_mistaken_for_others():
    """A fusible resistor is known at a glance, a threshold resistor from a drawing only."""
    glance = read_as(LIT, "ohms-R1", "open", "at-or-below")
    traced = read_as(LIT, "ohms-R4", "above", "at-or-below")
    assert traced - glance == pytest.approx(0.05)


def test_slips_of_two_kinds_add_up_and_leave_room():
    for topology in (PLAIN, LIT, OWN):
        for test in model(topology).tests:
            answers = {outcome.id for outcome in test.outcomes}
            for really, row in test.misread.items():
                assert {really, *row} <= answers, test.id
                assert sum(row.values()) < 0.5, test.id


@pytest.mark.parametrize("fault", ["C1-short", "C1-short-took-R1"])
def test_what_a_meter_makes_of_two_junctions_is_its_own(fault):
    row = model(PLAIN).row("ohms-U1Q", fault)
    assert 0.3 <= row["blocks"] <= 0.7


def test_neighbours_hide_an_open_threshold_resistor_now_and_then():
    assert 0 < odds(LIT, "ohms-R4", "R4-open", "at-or-below") < 0.3
    assert odds(LIT, "ohms-R2", "R2-open", "at-or-below") == 0


# ---- limits ----


def test_a_sense_resistor_a_fifth_over_its_mark_does_not_pass():
    """2.2 Ω, 2 %: a good one, 0.8 % and 0.2 Ω of the meter come to 2.46 Ω; 2.64 Ω dim the lamp."""
    assert 2.2 * 1.02 * 1.008 + 0.2 <= cut_under(PLAIN, "ohms-R3", "at-or-below") < 2.2 * 1.2


def test_a_gate_resistor_of_22_kilohms_does_not_pass_at_26():
    assert 22e3 * 1.05 < cut_under(LIT, "ohms-R7", "at-or-below") < 22e3 * 1.12


def test_ten_kilohms_across_a_rail_condemn_nothing():
    """A pull-up with a gate resistor behind it reads so, sound; 4 kΩ outdo any such feed."""
    stops = model(LIT).test("ohms-C2").outcome("stops")
    assert stops.low < 10e3 < stops.high
    assert odds(LIT, "ohms-C2", "no-fault", "stops") > 0.3
    assert odds(LIT, "ohms-C2", "no-fault", "leaks") == 0
    assert odds(LIT, "ohms-C2", "D1-drifted-far", "leaks") == 1
    assert odds(LIT, "ohms-C2", "D1-drifted-some", "stops") == 1


@pytest.mark.parametrize(("volts", "hertz", "ohms"), [(230, 50, 470e3), (120, 60, 220e3)])
def test_what_counts_as_a_leak_is_what_the_feed_cannot_carry_by_far(volts, hertz, ohms):
    mean = volts * 2 * 2**0.5 / 3.141592653589793
    carries = 5.1 * ohms / (mean - 5.1)
    found = cut_under(LIT, "ohms-C2", "leaks", volts, hertz)
    assert found == pytest.approx(0.35 * carries, rel=0.01)


def test_on_in_front_of_a_gate_is_what_a_gate_needs():
    """0.8 V at the gate and a little over its resistor; an enable line wants half its rail."""
    assert 0.8 <= cut_under(LIT, "volts-TP3", "wavers") < 1.5
    assert cut_under(OWN, "volts-TP3", "wavers") == pytest.approx(5.1 / 2, rel=0.02)


def test_a_sound_clamp_at_its_data_sheets_limits_is_not_called_sagging():
    """480 Ω of slope and 4.8 V at 5 mA: 3.5 V to 3.7 V at 0.4 mA are promised, no more."""
    assert 3.0 <= cut_under(LIT, "volts-TP2", "sagging") <= 3.7
    assert 0 < odds(LIT, "volts-TP2", "no-fault", "sagging") < 0.1
    assert 0 < odds(LIT, "volts-TP2", "R2-drifted-some", "as-due") < 0.3


def test_a_rail_that_takes_what_its_feed_gives_at_nominal_mains_is_not_heavy():
    """368 µA is what is left with the mains a tenth low: that condemned sound chips."""
    feed = (230 * 2 * 2**0.5 / 3.141592653589793 - 5.1) / 470e3
    assert cut_under(LIT, "rail-current-control", "as-due") >= 0.98 * feed
    assert 0 < odds(LIT, "rail-current-control", "no-fault", "heavy") < 0.1


def test_makes_of_controller_meet_a_shorted_diode_differently():
    for fault in ("D1-short", "U1-improper-retries"):
        row = model(PLAIN).row("supply-at-C2", fault)
        assert row["hunts"] > row["steady"] > 0.2
    assert model(PLAIN).row("supply-at-C2", "R4-drifted")["hunts"] == 1
