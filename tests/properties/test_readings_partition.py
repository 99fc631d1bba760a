"""Properties of reading an answer, over random bands and random text."""

import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.model import records
from engine.readings.bands import read
from kb.trouble import TroubleError

edges = st.lists(
    st.integers(1, 99_999).map(lambda n: n / 100), min_size=1, max_size=6, unique=True
).map(sorted)


def banded(cuts, unit="V"):
    """A test whose bands are cut at `cuts`, unbounded at both ends, named b0, b1, ..."""
    bounds = [None, *cuts, None]
    outcomes = tuple(
        records.Outcome(f"b{n}", "", low, high, unit)
        for n, (low, high) in enumerate(itertools.pairwise(bounds))
    )
    return records.Test(
        id="volts", says="", minutes=1, opened=(), supply="dead", rig="none", hands_on=False,
        outcomes=outcomes,
    )  # fmt: skip


@given(edges, st.integers(0, 99_999))
def test_each_number_falls_in_the_band_that_holds_it(cuts, hundredths):
    """The number of cuts at or below the value is the place of its band."""
    value = hundredths / 100
    expected = sum(cut <= value for cut in cuts)
    assert read(f"{value} V", banded(cuts)).outcome == f"b{expected}"


@given(edges, st.integers(0, 99_999))
def test_the_same_voltage_in_another_notation_is_the_same_answer(cuts, hundredths):
    """Millivolts, kilovolts, a comma and the bare number agree, at the edges too."""
    test = banded(cuts)
    value = hundredths / 100
    plain = read(f"{value}", test)
    ways = (f"{value:.2f}V", f"{value:.2f} V".replace(".", ","), f"{hundredths}0 mV",
            f"{hundredths}e-5 kV")  # fmt: skip
    for text in ways:
        assert read(text, test) == plain


@given(edges, st.integers(0, 99_999), st.integers(0, 99_999))
def test_the_shares_of_a_range_sum_to_one_and_follow_its_length(cuts, one, other):
    """A span's shares are its parts; only bands that it meets take one."""
    low, high = sorted((one / 100, other / 100))
    answer = read(f"{low}..{high}", banded(cuts))
    assert sum(share for _, share in answer.shares) == pytest.approx(1)
    bounds = [-math.inf, *cuts, math.inf]
    for name, share in answer.shares:
        n = int(name[1:])
        part = min(high, bounds[n + 1]) - max(low, bounds[n])
        assert share == pytest.approx(part / (high - low) if high > low else 1.0)


@given(st.text(max_size=15))
def test_whatever_is_typed_is_an_answer_or_one_trouble(text):
    """No other exception reaches the person."""
    test = banded([1.0, 4.6])
    troubles = ()
    try:
        answer = read(text, test)
    except TroubleError as error:
        troubles = error.troubles
    if troubles:
        assert len(troubles) == 1
        assert troubles[0].code.startswith("RD")
    else:
        assert {name for name, _ in answer.shares} <= {"b0", "b1", "b2"}


NEARLY = r"[<>~]? ?-?[0-9]{1,4}[.,]?[0-9]{0,3}( ?(\.\.|-|to|±) ?[0-9]{1,3})? ?[mkMµR]?[VΩA]?"


@given(st.from_regex(NEARLY, fullmatch=True))
def test_number_like_text_is_an_answer_or_one_trouble(text):
    """The same for text that nearly is a reading."""
    for unit in ("V", "MΩ"):
        troubles = ()
        try:
            shares = read(text, banded([1.0, 4.6], unit)).shares
        except TroubleError as error:
            troubles, shares = error.troubles, ()
        assert len(troubles) == 1 or sum(share for _, share in shares) == pytest.approx(1)
