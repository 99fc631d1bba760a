"""Shares as counts: beta marginals against scipy, and against worked figures.

Worked: Dirichlet counts 5 10 1 4 have the means .25 .50 .05 .20 over 20; counts 4 3 2 1 after cases
1 7 0 2 have the means .25 .50 .10 .15 and the intervals .0915-.4557, .2886-.7114, .0130-.2603,
.0338-.3314 (worked with scipy, to four decimals).
"""

from __future__ import annotations

from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from engine import library
from engine.model.records import Mains
from engine.readings.counts import Opinion, cumulated, interval, pooled, quantile
from kb.trouble import TroubleError
from tests.knowledge.shop import folder

COUNTS = st.floats(0.05, 300.0)


@given(a=COUNTS, b=COUNTS, x=st.floats(0.001, 0.999))
def test_the_odds_of_a_share_under_x_are_scipys(a, b, x):
    assert cumulated(x, a, b) == pytest.approx(stats.beta.cdf(x, a, b), rel=1e-9, abs=1e-12)


@given(a=st.floats(0.5, 300.0), b=st.floats(0.5, 300.0), odds=st.floats(0.01, 0.99))
def test_quantiles_are_scipys(a, b, odds):
    assert quantile(odds, a, b) == pytest.approx(stats.beta.ppf(odds, a, b), rel=1e-7, abs=1e-9)


def test_intervals_after_counted_cases_are_the_worked_ones():
    before = dict(zip("abcd", (4, 3, 2, 1), strict=True))
    cases = dict(zip("abcd", (1, 7, 0, 2), strict=True))
    counts = pooled([Opinion(before, 10)], cases)
    assert counts == pytest.approx(dict(zip("abcd", (5, 10, 2, 3), strict=True)))
    worked = [(0.0915, 0.4557), (0.2886, 0.7114), (0.0130, 0.2603), (0.0338, 0.3314)]
    for kind, span in zip("abcd", worked, strict=True):
        assert interval(counts[kind], 20) == pytest.approx(span, abs=5e-5)


def test_the_first_opinion_is_worth_its_widest_range():
    """An LED package open in 40 of 100, 25 to 55: as an interval that is some 40 cases."""
    assert interval(0.4 * 40, 40) == pytest.approx((0.25, 0.55), abs=0.01)


def test_an_opinion_that_is_silent_leaves_the_rest_as_it_was():
    """A tenth lies outside whatever somebody says of what is inside."""
    broad = Opinion({"outside": 0.1, "supply": 0.5, "leds": 0.4}, 40)
    partial = Opinion({"supply": 1.0, "leds": 0.0}, 10)
    counts = pooled([broad, partial])
    assert sum(counts.values()) == pytest.approx(50)
    assert counts["outside"] / 50 == pytest.approx(0.1)
    assert counts["supply"] / 50 == pytest.approx((0.5 * 40 + 0.9 * 10) / 50)


@given(
    st.dictionaries(st.sampled_from("abcde"), st.integers(0, 50), min_size=2),
    st.dictionaries(st.sampled_from("abcde"), st.integers(0, 50), min_size=2),
)
def test_cases_may_come_at_once_or_one_after_the_other(one, other):
    opinion = Opinion(dict.fromkeys("abcde", 0.2), 7)
    at_once = {kind: one.get(kind, 0) + other.get(kind, 0) for kind in {*one, *other}}
    first = pooled([opinion], one)
    later = {kind: first[kind] + other.get(kind, 0) for kind in first}
    assert pooled([opinion], at_once) == pytest.approx(later)


@pytest.mark.parametrize("count", [-1.0, 41.0])
def test_counts_that_cannot_be_are_refused(count):
    with pytest.raises(ValueError, match="cases"):
        interval(count, 40.0)


# ---- in a model ----


@cache
def model(kb=None):
    return library.model("buck-lamp", mains=Mains(230, 50), kb=kb)


def share_of(family, kb=None):
    return next(share for share in model(kb).shares if share.family == family)


def test_a_models_shares_are_beta_marginals_that_sum_to_one():
    shares = model().shares
    assert sum(share.middle for share in shares) == pytest.approx(1)
    for share in shares:
        beta = stats.beta(share.count, share.total - share.count)
        assert (share.middle, share.least, share.most) == pytest.approx(
            (beta.mean(), beta.ppf(0.025), beta.ppf(0.975)), rel=1e-6
        )


def test_priors_of_a_family_sum_to_its_share():
    leds = [fault.prior for fault in model().faults if fault.stage == "leds"]
    joint = next(f.prior for f in model().faults if f.id == "J2-open")
    loose = [f.prior for f in model().faults if f.variant_of == "J2-loose"]
    assert sum(leds) - joint - sum(loose) == pytest.approx(share_of("light-source").middle)


def test_other_populations_move_the_shares_a_little_and_are_told():
    leds = share_of("light-source")
    assert {voice.opinion for voice in leds.voices} == {
        "bench", "outdoor-luminaires", "two-spot-lamps"
    }  # fmt: skip
    bench = next(voice for voice in leds.voices if voice.opinion == "bench")
    assert 0 < bench.share / 1.04 - leds.middle < 0.03
    assert all(voice.source for voice in leds.voices)


OWN_CASES = """
rules:
  - id: own-cases-of-leds
    says: Sixty of our closed cases were LED packages.
    step: survey
    when: [part: {place: lights}]
    then: [counted: {family: light-source, cases: 60, book: own job book}]
    source: own job book
"""


def test_closed_cases_add_to_the_counts_and_narrow_the_interval(tmp_path):
    before = share_of("light-source")
    after = share_of("light-source", folder(tmp_path / "shop", **{"cases": OWN_CASES}))
    assert after.count == pytest.approx(before.count + 60)
    assert after.total == pytest.approx(before.total + 60)
    assert after.most - after.least < before.most - before.least
    assert after.middle == pytest.approx((before.count + 60) / (before.total + 60))
    assert ("own job book", 60) in {(voice.opinion, voice.cases) for voice in after.voices}


@pytest.mark.parametrize(
    ("word", "code"),
    [("cases: -1, book: b", "KB612"), ("cases: many, book: b", "KB612"), ("cases: 3", "KB620")],
)
def test_cases_that_are_no_count_are_told_at_their_line(tmp_path, word, code):
    text = OWN_CASES.replace("cases: 60, book: own job book", word)
    at = folder(tmp_path / "shop", **{"cases": text})
    with pytest.raises(TroubleError) as caught:
        model(at)
    assert [trouble.code for trouble in caught.value.troubles] == [code]
    assert caught.value.troubles[0].place.line == 3
