"""Does belief keep the laws of odds on any model?

Models are drawn small; the exact answer is reckoned in fractions, straight from the definition.
"""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction
from itertools import permutations
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.model.file import read_model
from engine.model.records import Model, Outcome
from engine.model.records import Test as Check
from engine.readings.belief import (
    Surprise,
    Tables,
    as_weights,
    by_parent,
    entropy,
    information,
    outcome_odds,
    posterior,
    prepare,
    report_odds,
    revise,
    update,
)
from engine.readings.confusion import confusion

LANTERN = Path(__file__).parents[1] / "safety" / "gate-lantern.model.json"
PATTERN = read_model(LANTERN.read_text(), "lantern")
Findings = list[tuple[str, str]]


def _shares(draw: st.DrawFn, size: int) -> list[float]:
    parts = draw(st.lists(st.integers(0, 20), min_size=size, max_size=size))
    parts = parts if any(parts) else [1] * size
    return [part / sum(parts) for part in parts]


@st.composite
def models(draw: st.DrawFn) -> Model:
    names = [f"f{n}" for n in range(draw(st.integers(1, 6)))]
    faults = zip(names, _shares(draw, len(names)), strict=True)
    tests = tuple(_drawn_test(draw, number) for number in range(3))
    rows = {
        test.id: {
            name: dict(zip(_words(test), _shares(draw, len(test.outcomes)), strict=True))
            for name in names
        }
        for test in tests
    }
    return replace(
        PATTERN,
        faults=tuple(replace(PATTERN.faults[0], id=name, prior=prior) for name, prior in faults),
        tests=tests,
        likelihood=rows,
    )


def _words(test: Check) -> list[str]:
    return [outcome.id for outcome in test.outcomes]


def _drawn_test(draw: st.DrawFn, number: int) -> Check:
    words = [f"o{n}" for n in range(draw(st.integers(2, 3)))]
    misread = {}
    for true in draw(st.sets(st.sampled_from(words))):
        parts = dict(zip(words, _shares(draw, len(words)), strict=True))
        misread[true] = {word: p / 2 for word, p in parts.items() if word != true}
    outcomes = tuple(Outcome(word, word) for word in words)
    return replace(PATTERN.tests[2], id=f"t{number}", outcomes=outcomes, misread=misread)


@st.composite
def models_and_findings(draw: st.DrawFn) -> tuple[Model, Findings]:
    model = draw(models())
    tests = draw(st.lists(st.sampled_from(model.tests), min_size=1, unique_by=lambda test: test.id))
    return model, [(test.id, draw(st.sampled_from(_words(test)))) for test in tests]


def exact(model: Model, findings: Findings) -> list[Fraction]:
    """Joint odds of each fault and all findings, in fractions."""
    odds = []
    for fault in model.faults:
        weight = Fraction(fault.prior)
        for test_id, told in findings:
            test, row = model.test(test_id), model.row(test_id, fault.id)
            weight *= sum(
                (Fraction(p) * _confused(test.misread, true, told) for true, p in row.items()),
                Fraction(0),
            )
        odds.append(weight)
    return odds


def _confused(misread: Any, true: str, told: str) -> Fraction:
    row = misread.get(true, {})
    if true != told:
        return Fraction(row.get(told, 0.0))
    return 1 - sum((Fraction(p) for word, p in row.items() if word != true), Fraction(0))


def told_or_none(tables: Tables, findings: Findings) -> np.ndarray[Any, Any] | None:
    try:
        return posterior(tables, findings)
    except Surprise:
        return None


@settings(max_examples=100, deadline=None)
@given(models_and_findings())
def test_posterior_equals_the_definition_in_fractions(drawn: tuple[Model, Findings]) -> None:
    model, findings = drawn
    joint = exact(model, findings)
    ours = told_or_none(prepare(model), findings)
    if ours is None:
        assert float(sum(joint)) < 1e-15
    else:
        wanted = [float(weight / sum(joint)) for weight in joint]
        assert np.abs(ours - wanted).max() < 1e-12


@settings(max_examples=100, deadline=None)
@given(models_and_findings())
def test_order_of_answers_does_not_matter(drawn: tuple[Model, Findings]) -> None:
    model, findings = drawn
    tables = prepare(model)
    ways = [told_or_none(tables, list(way)) for way in permutations(findings)]
    known = [way for way in ways if way is not None]
    assert not known or all(np.abs(way - known[0]).max() < 1e-12 for way in known)


@settings(max_examples=100, deadline=None)
@given(models_and_findings())
def test_undone_answer_leaves_no_trace(drawn: tuple[Model, Findings]) -> None:
    """Answering, undoing by recomputation and answering again is the same bit by bit."""
    model, findings = drawn
    tables = prepare(model)
    before, after = told_or_none(tables, findings[:-1]), told_or_none(tables, findings)
    again = told_or_none(tables, findings[:-1])
    assert (before is None) == (again is None)
    if before is not None and again is not None and after is not None:
        assert before.tobytes() == again.tobytes()
        assert revise(tables, again, *findings[-1]).tobytes() == after.tobytes()


@settings(max_examples=100, deadline=None)
@given(models_and_findings())
def test_mappings_and_arrays_agree(drawn: tuple[Model, Findings]) -> None:
    model, findings = drawn
    tables = prepare(model)
    ours = told_or_none(tables, findings)
    belief = {fault.id: fault.prior for fault in model.faults}
    try:
        for test, told in findings:
            belief = update(model, belief, test, ((told, 1.0),))
    except Surprise:
        assert ours is None
    else:
        assert ours is not None
        assert np.abs(as_weights(tables, belief) - ours).max() < 1e-12


@settings(max_examples=100, deadline=None)
@given(models())
def test_odds_of_what_is_told_sum_to_one(model: Model) -> None:
    tables = prepare(model)
    for test in model.tests:
        assert sum(outcome_odds(tables, tables.prior, test.id).values()) == pytest.approx(1)
        for fault in model.faults:
            assert sum(report_odds(model, test.id, fault.id).values()) == pytest.approx(1)


@settings(max_examples=100, deadline=None)
@given(models())
def test_answer_never_raises_entropy_on_average(model: Model) -> None:
    tables = prepare(model)
    for test in model.tests:
        bits = information(tables, tables.prior, test.id)
        assert 0.0 <= bits <= entropy(tables.prior) + 1e-12


@settings(max_examples=100, deadline=None)
@given(models())
def test_mean_of_posteriors_is_the_prior(model: Model) -> None:
    """The law of total probability over what may be told."""
    tables = prepare(model)
    for test in model.tests:
        mean = np.zeros(len(tables.faults))
        for told, odds in outcome_odds(tables, tables.prior, test.id).items():
            if odds > 0:
                mean += odds * revise(tables, tables.prior, test.id, told)
        assert np.abs(mean - tables.prior).max() < 1e-12


# --- single behaviours on the lantern ---


@pytest.fixture
def lantern() -> Model:
    return read_model(LANTERN.read_text(), "lantern")


IMPOSSIBLE: Findings = [("other-socket", "dead"), ("bridge-switch", "lit"), ("rail-volts", "high")]


def test_impossible_answers_are_a_surprise_in_words(lantern: Model) -> None:
    with pytest.raises(Surprise, match='"high" at test "rail-volts" is impossible') as caught:
        posterior(prepare(lantern), IMPOSSIBLE)
    assert (caught.value.test, caught.value.told) == ("rail-volts", "high")


def test_impossible_answer_to_a_mapping_is_a_surprise_too(lantern: Model) -> None:
    with pytest.raises(Surprise):
        update(lantern, {"switch-open": 1.0}, "other-socket", (("works", 1.0),))


def test_reading_between_two_bands_is_shared_evidence(lantern: Model) -> None:
    """Half low, half right: switch .3 x .5, driver .25 x .5, leds .2 x .5, socket .2 x .5,
    other .05 x .25."""
    prior = {fault.id: fault.prior for fault in lantern.faults}
    after = update(lantern, prior, "rail-volts", (("low", 0.5), ("right", 0.5)))
    assert after["other"] == pytest.approx(0.0125 / (0.95 * 0.5 + 0.0125), abs=1e-12)


def test_variants_are_added_up_under_their_fault(lantern: Model) -> None:
    plain = json.loads(LANTERN.read_text())
    plain["faults"][1]["variant_of"] = "driver-dead"
    model = read_model(json.dumps(plain), "lantern")
    belief = {fault.id: fault.prior for fault in model.faults}
    shown = by_parent(model, belief)
    assert shown == {"socket-bent": 0.2, "driver-dead": 0.55, "led-open": 0.2, "other": 0.05}


def test_prior_is_never_written_over(lantern: Model) -> None:
    tables = prepare(lantern)
    with pytest.raises(ValueError, match="read-only"):
        tables.prior[0] = 1.0


def test_what_is_not_misread_is_told_as_it_is(lantern: Model) -> None:
    """Rows are what is true, columns what is told: 3 in 100 misread leave 97."""
    test = replace(
        lantern.test("rail-volts"), misread={"low": {"right": 0.02, "high": 0.01}}
    )
    names = [outcome.id for outcome in test.outcomes]
    odds = dict(zip(names, confusion(test)[names.index("low")], strict=True))
    others = dict.fromkeys(names, 0.0)
    assert odds == pytest.approx({**others, "low": 0.97, "right": 0.02, "high": 0.01})
    assert confusion(test).sum(axis=1) == pytest.approx(1.0)
