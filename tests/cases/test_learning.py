"""Does a shop learn what its closed cases say, no more, and forget what is taken back?

Outside figures: A. Gelman et al., Bayesian Data Analysis, 3rd ed., sec. 3.4 (from memory: the
pre-election poll of 1988, 727, 583 and 137 of 1447, a uniform Dirichlet prior); scipy's beta.
"""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from engine.cases import learning, lessons
from engine.cases.learning import Lesson
from engine.cases.opening import open_shop
from engine.cases.records import Closing, Happening
from engine.cases.shop import Shop
from engine.model.file import read_model
from engine.model.records import Model
from kb.trouble import TroubleError
from tests.cases.intakes import answer, intake
from tests.words.cli import LANTERN

MODEL = read_model(LANTERN.read_text(encoding="utf-8"), "lantern")
UNIT = MODEL.topology


def with_priors(model: Model, priors: dict[str, float]) -> Model:
    """The model with other priors, those not named at nothing."""
    faults = tuple(replace(f, prior=priors.get(f.id, 0.0)) for f in model.faults)
    return replace(model, faults=faults)


def both(rows: tuple[learning.Share, ...]) -> dict[str, float]:
    """Shares by fault."""
    return {row.fault: row.both for row in rows}


def test_a_poll_comes_out_as_in_the_textbook() -> None:
    """Three candidates, each as one case beforehand: means of the Dirichlet with 728, 584, 138."""
    names = [fault.id for fault in MODEL.faults][:3]
    book = with_priors(MODEL, dict.fromkeys(names, 1 / 3))
    told = [Lesson(UNIT, "", n, c) for n, c in zip(names, (727, 583, 137), strict=True)]
    shares = both(learning.shares(book, book, told, 3.0))
    assert [shares[n] for n in names] == pytest.approx([728 / 1450, 584 / 1450, 138 / 1450])


@given(st.lists(st.integers(0, 60), min_size=5, max_size=5), st.floats(1, 200))
def test_shares_and_ranges_are_those_of_the_dirichlet(cases: list[int], strength: float) -> None:
    """Its marginals are beta distributions, as scipy has them; none falls to nothing."""
    told = [Lesson(UNIT, "", f.id, c) for f, c in zip(MODEL.faults, cases, strict=True) if c]
    rows = learning.shares(MODEL, MODEL, told, strength)
    total = strength + sum(cases)
    for row in rows:
        count = row.both * total
        assert count == pytest.approx(strength * row.book + row.cases)
        least, most = stats.beta(count, total - count).ppf((0.025, 0.975))
        assert (row.least, row.most) == pytest.approx((least, most), abs=1e-6)
        assert row.both > 0
    assert math.fsum(row.both for row in rows) == pytest.approx(1)


def test_without_cases_the_book_stands() -> None:
    """And so where the cases are of another unit, or of a fault that this one has not."""
    told = [Lesson("other", "", "switch-open", 5.0), Lesson(UNIT, "", "nobody-knows", 5.0)]
    for row in learning.shares(MODEL, MODEL, told, 8.0):
        assert row.both == pytest.approx(row.book)


def test_cases_of_another_complaint_are_carried_over_by_the_book() -> None:
    """By hand: two faults of equal share, the complaint three times as likely under the second."""
    a, b = "switch-open", "driver-dead"
    usual = with_priors(MODEL, {a: 0.5, b: 0.5})
    dim = replace(with_priors(MODEL, {a: 0.25, b: 0.75}), complaint="dim")
    shares = both(learning.shares(usual, dim, [Lesson(UNIT, "flicker", a, 8.0)], 8.0))
    # s = (4 + 8, 4) / 16; times (1/2, 3/2): 3/8 to 3/8
    assert (shares[a], shares[b]) == pytest.approx((0.5, 0.5))
    own = both(learning.shares(usual, dim, [Lesson(UNIT, "dim", a, 8.0)], 8.0))
    assert own[a] == pytest.approx((8 * 0.25 + 8) / 16)


def test_a_fault_that_the_book_rules_out_under_a_complaint_stays_out_by_others() -> None:
    """But not by a case of that very complaint."""
    a, b = "switch-open", "driver-dead"
    usual = with_priors(MODEL, {a: 0.5, b: 0.5})
    dim = replace(with_priors(MODEL, {b: 1.0}), complaint="dim")
    assert both(learning.shares(usual, dim, [Lesson(UNIT, "x", a, 8.0)], 8.0))[a] == 0
    assert both(learning.shares(usual, dim, [Lesson(UNIT, "dim", a, 8.0)], 8.0))[a] > 0


def test_variants_of_a_fault_share_what_is_learnt_of_it() -> None:
    """In the parts that the book gives them."""
    faults = list(MODEL.faults)
    faults[2] = replace(faults[2], variant_of=faults[1].id)
    model = replace(MODEL, faults=tuple(faults))
    rows = learning.shares(model, model, [Lesson(UNIT, "", faults[1].id, 40.0)], 8.0)
    after = {fault.id: fault.prior for fault in learning.with_shares(model, rows).faults}
    assert math.fsum(after.values()) == pytest.approx(1)
    kept = faults[1].prior / faults[2].prior
    assert after[faults[1].id] / after[faults[2].id] == pytest.approx(kept)
    assert after[faults[1].id] > faults[1].prior


def timed(*minutes: float) -> list[Happening]:
    """A check answered after so many minutes, again and again."""
    at, happenings = datetime(2031, 5, 5, 9, 0, tzinfo=UTC), []
    happenings.append(Happening(at.isoformat(), "x", {"event": "away"}))
    for one in minutes:
        at += timedelta(minutes=one)
        happenings.append(Happening(at.isoformat(), "x", answer("rail-volts")))
    return happenings


def test_minutes_are_read_off_the_clock() -> None:
    """Those of answers only; a night between two is no work."""
    told = list(learning.durations(timed(2, 3, 700, 4)))
    assert told == [("rail-volts", 2.0), ("rail-volts", 3.0), ("rail-volts", 4.0)]


def test_a_clock_that_is_set_back_gives_no_minutes() -> None:
    """Of the answer after it; those that follow count on from there."""
    told = list(learning.durations(timed(2, -700, 3)))
    assert told == [("rail-volts", 2.0), ("rail-volts", 3.0)]


def test_a_coffee_break_does_not_move_the_minutes() -> None:
    """One of nine takes forty minutes longer; a mean would be off by four."""
    plain = [("rail-volts", m) for m in (2.0, 2.5, 3.0, 3.0, 3.0, 3.0, 3.5, 4.0, 4.5)]
    (before,) = learning.paces(MODEL, plain)
    (after,) = learning.paces(MODEL, [*plain[:-1], ("rail-volts", 44.5)])
    assert before.median == after.median == pytest.approx(3.0)
    assert before.both == after.both
    book = MODEL.test("rail-volts").minutes
    assert min(book, 3.0) <= before.both <= max(book, 3.0)


def closed(shop: Shop, *faults: str, topology: str = UNIT) -> int:
    """A case that turned out to be these."""
    number, version = shop.begin(intake(topology=topology))
    shop.close(number, version, Closing("mended", faults))
    return number


def counts(shop: Shop) -> dict[str, float]:
    """The shop's own cases by fault."""
    return {lesson.fault: lesson.cases for lesson in lessons.own(shop)}


def test_a_case_that_is_opened_again_counts_no_longer(shop: Shop) -> None:
    """Nor does one of which nobody found out the fault; two faults share their case."""
    number = closed(shop, "driver-dead")
    closed(shop)
    closed(shop, "driver-dead", "led-open")
    assert counts(shop) == {"driver-dead": 1.5, "led-open": 0.5}
    shop.reopen(number)
    assert counts(shop) == {"driver-dead": 0.5, "led-open": 0.5}


def test_shops_exchange_numbers_and_no_names(shop: Shop, tmp_path: Path) -> None:
    """Merged by weight, the same document once."""
    closed(shop, "driver-dead")
    document = lessons.document(shop)
    assert document["counts"] == [
        {"topology": UNIT, "complaint": "", "fault": "driver-dead", "cases": 1.0}
    ]
    other = open_shop(str(tmp_path / "o.db"), who="Bob", clock=lambda: datetime.now(UTC))
    assert lessons.merge(other, document, 0.5, "c.json") == 1
    assert lessons.merge(other, document, 0.25, "c.json") == 0
    assert lessons.foreign(other) == (Lesson(UNIT, "", "driver-dead", 0.25),)
    for weight in (0.0, 1.5, -1.0):
        with pytest.raises(TroubleError, match="CS123"):
            lessons.merge(other, document, weight, "c.json")
    with pytest.raises(TroubleError, match="CS123"):
        lessons.merge(other, {"format": "nextprobe-counts/1"}, 0.5, "c.json")
