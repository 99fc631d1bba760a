"""What is typed at a question, and what it is taken for or told."""

import pytest

from engine.model import records
from engine.readings.bands import band_words, possible, read
from kb.trouble import TroubleError


def make(name, *outcomes, instrument=""):
    """A test of that name with the given outcomes; the rest does not matter to a reading."""
    return records.Test(
        id=name, says="", minutes=1, opened=(), supply="dead", rig="none", hands_on=False,
        outcomes=outcomes, instrument=instrument,
    )  # fmt: skip


RAIL = make(
    "rail-volts",
    records.Outcome("dead", "Nothing there", None, 1.0, "V"),
    records.Outcome("low", "Low", 1.0, 4.6, "V"),
    records.Outcome("good", "At the zener voltage", 4.6, 5.6, "V"),
    records.Outcome("high", "Too high", 5.6, None, "V"),
)
BUS = make(
    "bus-volts",
    records.Outcome("low", "", 0.0, 100.0, "V"),
    records.Outcome("good", "", 100, 400, "V"),
)
OFFSET = make(
    "output-offset",
    records.Outcome("negative", "", None, -0.05, "V"),
    records.Outcome("centred", "", -0.05, 0.05, "V"),
    records.Outcome("positive", "", 0.05, None, "V"),
)
CAP_OHMS = make(
    "cap-ohms",
    records.Outcome("short", "near zero", 0.0, 10.0, "Ω"),
    records.Outcome("some", "some resistance", 10.0, 1e7, "Ω"),
    records.Outcome("open", "above the range", 1e7, None, "Ω"),
)
MEGOHMS = make(
    "leak-ohms",
    records.Outcome("leaky", "", None, 2.0, "MΩ"),
    records.Outcome("sound", "", 2.0, None, "MΩ"),
)
JUNCTION = make(
    "bridge-diode",
    records.Outcome("short", "", 0.0, 0.3, "V"),
    records.Outcome("good", "", 0.3, 1.0, "V"),
    records.Outcome("open", "", 1.0, None, "V"),
    instrument="meter on the diode range",
)
MAINS_CURRENT = make(
    "mains-current",
    records.Outcome("none", "", None, 2.0, "mA"),
    records.Outcome("as-due", "", 2.0, 60.0, "mA"),
    records.Outcome("heavy", "", 60.0, None, "mA"),
)
RIPPLE = make(
    "ripple",
    records.Outcome("small", "", None, 0.3, "V"),
    records.Outcome("large", "", 0.3, None, "V"),
    instrument="AC volts",
)
LOOK = make(
    "cover-sensor",
    records.Outcome("lit", "it comes on"),
    records.Outcome("dark", "it stays dark"),
    records.Outcome("dim-glow", "it glows dimly"),
)


@pytest.mark.parametrize(
    ("text", "outcome"),
    [
        *[("lit", "lit"), ("LIT", "lit"), ("it comes on", "lit"), ("It comes on.", "lit")],
        *[("da", "dark"), ("it g", "dim-glow"), ("dim glow", "dim-glow")],
        (" dim  glow ", "dim-glow"),
    ],
)  # fmt: skip
def test_an_outcome_is_answered_by_name_words_or_beginning(text, outcome):
    """Case, hyphens, spaces and a full stop do not matter."""
    answer = read(text, LOOK)
    assert answer.shares == ((outcome, 1.0),)
    assert answer.reading == ""


@pytest.mark.parametrize(
    ("test", "text", "outcome", "reading"),
    [
        (RAIL, "3.1 V", "low", "3.1 V"),
        (RAIL, "3,1V", "low", "3.1 V"),
        (RAIL, "3100 mV", "low", "3.1 V"),
        (RAIL, "3100m", "low", "3.1 V"),
        (RAIL, "3.1", "low", "3.1 V"),
        (RAIL, "+3.1 VDC", "low", "3.1 V"),
        (RAIL, "~3.1 v", "low", "3.1 V"),
        (RAIL, "3.1 volts", "low", "3.1 V"),
        (RAIL, "5V1", "good", "5.1 V"),
        (RAIL, "0", "dead", "0 V"),
        (RAIL, "-0.02", "dead", "0 V"),
        (RAIL, "0.6..0.7", "dead", "0.6 V to 0.7 V"),
        (RAIL, "0.7-0.6 V", "dead", "0.6 V to 0.7 V"),
        (RAIL, "600 to 700 mV", "dead", "0.6 V to 0.7 V"),
        (RAIL, "between 600 mV and 0.7 V", "dead", "0.6 V to 0.7 V"),
        (RAIL, "3.1 V ± 0.2", "low", "2.9 V to 3.3 V"),
        (RAIL, "31e-1 ± 0.2", "low", "2.9 V to 3.3 V"),
        (RAIL, "> 6", "high", "> 6 V"),
        (RAIL, "below 0.5 V", "dead", "0 V to 0.5 V"),
        (OFFSET, "-12 mV", "centred", "−12 mV"),
        (OFFSET, "−1.5", "negative", "−1.5 V"),
        (CAP_OHMS, "4k7", "some", "4.7 kΩ"),
        (CAP_OHMS, "10M", "open", "10 MΩ"),
        (CAP_OHMS, "0", "short", "0 Ω"),
        (CAP_OHMS, "R47", "short", "0.47 Ω"),
        (CAP_OHMS, "2..3 k", "some", "2 kΩ to 3 kΩ"),
        (CAP_OHMS, ">20M", "open", "> 20 MΩ"),
        (CAP_OHMS, "<2", "short", "0 Ω to 2 Ω"),
        (CAP_OHMS, "1 ohm", "short", "1 Ω"),
        (MEGOHMS, "5", "sound", "5 MΩ"),
        (MEGOHMS, "1999k", "leaky", "1.999 MΩ"),
        (JUNCTION, "0.55", "good", "0.55 V"),
        (JUNCTION, "1", "open", "1 V"),
    ],
)  # fmt: skip
def test_a_reading_finds_its_band(test, text, outcome, reading):
    """Any usual notation; a bare number takes the test's own unit, megohms included."""
    answer = read(text, test)
    assert answer.outcome == outcome
    assert not answer.straddles
    assert answer.reading == reading


@pytest.mark.parametrize(
    ("text", "outcome"), [("0.9999", "dead"), ("1.0", "low"), ("4.6", "good"), ("5600 mV", "high")]
)
def test_a_band_holds_its_lower_edge_and_not_its_upper(text, outcome):
    """Half-open bands, also where the edge is typed in another unit."""
    assert read(text, RAIL).outcome == outcome


@pytest.mark.parametrize(
    "text", ["OL", "ol", "0L", "O.L", "0.L", ".OL", "-OL", "OL MΩ", "over range", "overload", "∞"]
)
@pytest.mark.parametrize("test", [CAP_OHMS, JUNCTION])
def test_over_range_is_the_topmost_band(test, text):
    """As meters show it and as people say it, on ohms and diode ranges."""
    answer = read(text, test)
    assert answer.outcome == "open"
    assert answer.reading == "over range"


def test_over_range_can_be_an_outcome_of_its_own():
    """Where a test names it, the name wins over the topmost band."""
    named = make(
        "base-ohms",
        records.Outcome("near-zero", "", 0.0, 5.0, "Ω"),
        records.Outcome("resistance", "", 5.0, None, "Ω"),
        records.Outcome("over-range", "over range"),
    )
    assert read("OL", named).outcome == "over-range"


def test_a_range_across_two_bands_speaks_for_both():
    """4.4 to 4.8 V is half low and half good; the larger share is the outcome."""
    answer = read("4.3..4.7", RAIL)
    assert answer.straddles
    assert dict(answer.shares) == pytest.approx({"low": 0.75, "good": 0.25})
    assert answer.outcome == "low"


def test_a_bound_without_end_speaks_evenly():
    """Above 5 V is good or high, and nothing says which."""
    assert read("> 5 V", RAIL).shares == (("good", 0.5), ("high", 0.5))


@pytest.mark.parametrize(
    ("test", "text", "code", "says"),
    [
        (RAIL, "", "RD1", "Write the reading in volts, such as 2.8 V, or answer “dead”, “low”, "),
        (RAIL, "3.1 parrots", "RD1", "“3.1 parrots” is not a reading. Write the reading in volts"),
        (RAIL, "3.1.2", "RD1", "is not a reading"),
        (RAIL, "x to 5", "RD1", "is not a reading"),
        (RAIL, "nan", "RD1", "none of this test's answers"),
        (RAIL, "4k7", "RD2", "This test wants volts, and “4k7” is in ohms"),
        (RAIL, ">20M", "RD2", "This test wants volts, and “>20M” is in ohms"),
        (CAP_OHMS, "5 V", "RD2", "This test wants ohms, and “5 V” is in volts"),
        (RIPPLE, "0.2 V DC", "RD2", "“0.2 V DC” is of the other. Turn to AC volts and read"),
        (RAIL, "OL", "RD3", "the meter's range is too low. Turn to a higher range"),
        (RAIL, "<1000", "RD1", "“<1000” says nothing: all that can be read here lies within it"),
        (RAIL, "0-3 kV", "RD1", "says nothing"),
        (RAIL, "<550 GV", "RD1", "says nothing"),
        (MAINS_CURRENT, "0.113", "RD4", "“0.113” could be 113 mA or 113 µA. Write 0.113 A or"),
        (RAIL, "5000 V", "RD3", "can't be: nothing reads beyond 1 kV here"),
        (RAIL, "-3 V", "RD3", "below zero, where this test has no answer. Swap the two leads"),
        (BUS, "-30", "RD3", "Swap the two leads"),
        (BUS, "401", "RD3", "outside every answer"),
        (CAP_OHMS, "-5", "RD3", "no resistance is below zero; the circuit still holds charge"),
        (CAP_OHMS, "-5", "RD3", "Unplug, discharge, measure that it is discharged"),
        (CAP_OHMS, "1", "RD4", "over range on others. Write 1 Ω or OL"),
        (MEGOHMS, "1", "RD4", "Write 1 MΩ or OL"),
        (CAP_OHMS, "s", "RD4", "“s” could be “short” or “some”. Write a little more of it"),
        (LOOK, "it", "RD4", "“lit” or “dark” or “dim-glow”"),
        (LOOK, "3.1 V", "RD5", "not read off a meter. Answer “lit”, “dark” or “dim-glow”"),
        (LOOK, "?", "RD1", "none of this test's answers. Answer “lit”, “dark” or “dim-glow”"),
    ],
)  # fmt: skip
def test_what_can_not_be_used_is_told_with_its_mend(test, text, code, says):
    """One sentence that says what is wanted, with an example."""
    with pytest.raises(TroubleError) as caught:
        read(text, test)
    (trouble,) = caught.value.troubles
    assert trouble.code == code
    assert says in str(trouble)
    assert trouble.mend


@pytest.mark.parametrize(
    ("text", "outcome"),
    [("0.113 A", "heavy"), ("0.113 mA", "none"), ("30", "as-due"), ("113", "heavy"), ("0", "none")],
)
def test_a_current_without_a_unit_is_taken_where_one_prefix_alone_makes_sense(text, outcome):
    """30 A and 113 A are none; nothing is nothing in either."""
    assert read(text, MAINS_CURRENT).outcome == outcome


def test_a_span_beyond_what_can_be_read_is_cut_to_it():
    """From 5 V to 3 kV is 5 V to 1 kV: the bands have their parts of that."""
    answer = read("5 V..3 kV", RAIL)
    assert (answer.low, answer.high) == (5.0, 1000.0)
    assert dict(answer.shares)["good"] == pytest.approx(0.6 / 995.0)


def test_the_supply_limits_what_can_be_read():
    """A 12 V bench source shows no 230 V: either the reading or the supply is not what it seems."""
    bench = records.Arrangement("bench-source", "elv", 12, True, False)
    assert read("11.8 V", RAIL, bench).outcome == "high"
    with pytest.raises(TroubleError, match=r"beyond 24 V here.*the supply"):
        read("230 V", RAIL, bench)


@pytest.mark.parametrize(
    ("outcome", "words"),
    [
        (RAIL.outcomes[0], "below 1 V"),
        (RAIL.outcomes[2], "4.6 V to 5.6 V"),
        (RAIL.outcomes[3], "from 5.6 V up"),
        (MEGOHMS.outcomes[1], "from 2 MΩ up"),
        (LOOK.outcomes[0], ""),
    ],
)
def test_a_band_in_words(outcome, words):
    """As questions and charts print it."""
    assert band_words(outcome) == words


@pytest.mark.parametrize("text", ["0.2 V", "0.2 V AC", "0.2 Vac", "200 mV ac"])
def test_a_reading_of_the_kind_that_is_read_is_taken(text):
    """Said or left out; only the other kind is a mistake."""
    assert read(text, RIPPLE).outcome == "small"


@pytest.mark.parametrize(("text", "test"), [("3 V DC", RAIL), ("3 V AC", RAIL)])
def test_where_a_test_names_no_kind_of_volts_either_will_do(text, test):
    """Nothing speaks against it."""
    assert read(text, test).outcome == "low"


@pytest.mark.parametrize(("volts", "most"), [(0.5, 1.0), (12.0, 24.0), (325.0, 650.0)])
def test_nothing_reads_beyond_twice_what_the_supply_has(volts, most):
    """Room for the peak, for mains 10 % high and for a rail that a fault doubles; either way."""
    supply = records.Arrangement("bench", "elv", volts, True, False)
    assert possible("V", supply) == (-most, most)


def test_without_a_supply_the_meter_is_the_limit():
    """A cold check reads what the meter itself sends, up to its own ends."""
    dead = records.Arrangement("dead", "none", 0.0, True, False)
    assert possible("V", dead) == possible("V") == (-1000.0, 1000.0)
    assert possible("A", dead) == possible("A")


@pytest.mark.parametrize("text", ["9" * 5000, "1 " * 900 + "V", "1-" * 900, "between " + "1" * 900])
def test_a_text_that_no_meter_shows_is_refused_at_once(text):
    """Seeking a span in it would take hours: time grows with more than its square (CWE-1333)."""
    with pytest.raises(TroubleError, match=r"RD1 .*too long to be an answer") as wrong:
        read(text, RAIL)
    assert len(str(wrong.value)) < 300
