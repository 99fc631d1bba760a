"""A model's rows as tables: what is true, what is told, what a remedy cures; worked by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from engine.readings.confusion import Readings
from tests.models import simple_test, tiny_model


@pytest.fixture
def readings() -> Readings:
    """Two faults, one test that parts them; its `bad` is told as good once in ten."""
    model = tiny_model(
        {"left": 3.0, "right": 1.0},
        [simple_test("look"), simple_test("weigh")],
        {"look": {"left": "bad", "right": "good"}, "weigh": {"left": "good", "right": "good"}},
    )
    look, weigh = model.tests
    misread = {"bad": {"good": 0.1}}
    return Readings.of(replace(model, tests=(replace(look, misread=misread), weigh)))


def test_rows_run_over_faults_and_outcomes(readings: Readings) -> None:
    assert readings.prior.tolist() == [0.75, 0.25]
    assert readings.true["look"].tolist() == [[0.0, 1.0], [1.0, 0.0]]
    assert readings.confusions["look"] == pytest.approx(np.array([[1.0, 0.0], [0.1, 0.9]]))


def test_a_remedy_cures_its_own_faults_and_no_others(readings: Readings) -> None:
    assert readings.cures("mend-left").tolist() == [1.0, 0.0]
    assert readings.cures("mend-right").tolist() == [0.0, 1.0]


def test_only_what_can_be_misread_is_mistakable(readings: Readings) -> None:
    """Good may be a bad misread; bad is never told for good."""
    assert readings.mistakable("look")
    assert not readings.mistakable("weigh")
    assert readings.mistaken_for("look", 0)
    assert not readings.mistaken_for("look", 1)


def test_a_test_read_again_has_the_same_truth(readings: Readings) -> None:
    """Nine in ten told bad where it is bad, whatever was told before; who can't have told it: 0."""
    assert readings.again("look", ()) == pytest.approx(np.array([[0.1, 0.9], [1.0, 0.0]]))
    assert readings.again("look", (1,)) == pytest.approx(np.array([[0.1, 0.9], [0.0, 0.0]]))
    assert readings.again("look", (0, 1)) == pytest.approx(np.array([[0.1, 0.9], [0.0, 0.0]]))
