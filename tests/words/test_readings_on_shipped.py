"""Every answer that the shipped topologies print can be given, by name and by reading."""

import math

import pytest

from engine import library
from engine.model.records import Mains
from engine.readings.bands import read


@pytest.fixture(scope="module", params=["light-controlled-lamp", "buck-lamp"])
def model(request):
    """The topology's model at part depth on 230 V."""
    return library.model(request.param, mains=Mains(230, 50))


def readings_in(outcome):
    """The band's lower edge as printed in full, and a value well inside it."""
    if outcome.low is not None:
        yield outcome.low
    low = outcome.low or 0.0
    high = math.inf if outcome.high is None else outcome.high
    yield low * 1.1 if high == math.inf else (low + high) / 2


def test_each_outcome_is_answered_by_its_name_and_by_its_words(model):
    """The words on the chart are answers as they stand."""
    for test in model.tests:
        for outcome in test.outcomes:
            for words in filter(None, (outcome.id, outcome.says)):
                assert read(words, test).outcome == outcome.id, (test.id, words)


def test_each_band_is_reached_by_a_reading_inside_it(model):
    """With a point or a comma, under the limits of the test's own supply."""
    for test in model.tests:
        supply = model.arrangement(test.supply)
        for outcome in (o for o in test.outcomes if o.unit is not None):
            for value in readings_in(outcome):
                for text in (f"{value!r} {outcome.unit}", f"{value!r}".replace(".", ",")):
                    assert read(text, test, supply).outcome == outcome.id, (test.id, text)


def test_over_range_is_an_answer_to_every_ohms_test(model):
    """A meter that shows OL on ohms has said something."""
    ohms = [t for t in model.tests if any(o.unit == "Ω" for o in t.outcomes)]
    assert ohms
    for test in ohms:
        assert read("OL", test).high == math.inf
