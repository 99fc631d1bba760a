"""What stands before a stage and what holds it decide its volts, and ratings are held against them.

Volts are checked against closed forms worked out here, in the volts and ohms of the units.
"""

from __future__ import annotations

import math

import pytest

from engine.deduce.composition import Bench
from engine.deduce.deduction import Exploration, Reasoner
from engine.studies.review.safety import doubts
from engine.studies.review.scope import Scope
from engine.studies.review.trying import Unit
from kb.language import loader
from tests.knowledge import feeds
from tests.knowledge.shop import folder

MAINS = (Bench(230.0, 50.0), Bench(120.0, 60.0))


@pytest.fixture(scope="module")
def reasoner(tmp_path_factory):
    own = folder(tmp_path_factory.mktemp("shop"), **feeds.FILES)
    return Reasoner(loader.read((own,)))


def offered(reasoner, topology, bench):
    _, offer = reasoner.survey(topology, bench)
    return offer


def expected(reasoner, topology, bench, point):
    """The volts that a point carries when all is well, by what the rules offer."""
    offer = offered(reasoner, topology, bench)
    node = next(fact["node"] for fact in offer.of("point") if fact["name"] == point)
    return [fact.number("volts") for fact in offer.of("expect") if fact["node"] == node]


@pytest.mark.parametrize("bench", MAINS, ids=["230 V", "120 V"])
@pytest.mark.parametrize("topology", ["dropper-lamp", "high-resistor-lamp"])
def test_a_string_with_no_converter_sets_the_volts_whatever_the_mains(reasoner, topology, bench):
    assert expected(reasoner, topology, bench, "TP2") == [pytest.approx(8 * 3)]


@pytest.mark.parametrize("topology", ["clamped-lamp", "weak-raw-lamp"])
def test_a_clamp_across_a_weakly_fed_bus_sets_its_volts(reasoner, topology):
    assert expected(reasoner, topology, MAINS[0], "TP2") == [pytest.approx(24)]


def test_a_transformer_sets_the_volts_behind_it(reasoner):
    held = expected(reasoner, "transformer-lamp", MAINS[0], "TP2")
    assert held == [pytest.approx(18 * math.sqrt(2) - 1.4)]
    raw = expected(reasoner, "bare-transformer-lamp", MAINS[0], "TP2")
    assert raw == [pytest.approx(18 * 2 * math.sqrt(2) / math.pi, rel=1e-3)]


@pytest.mark.parametrize(
    ("topology", "volts"),
    [
        ("clamped-lamp", 24),
        ("weak-raw-lamp", 24),
        ("transformer-lamp", 18 * math.sqrt(2) - 1.4),
        ("bare-transformer-lamp", 18 * 2 * math.sqrt(2) / math.pi),
        ("output-fed-lamp", 4 * 3),
    ],
)
def test_a_rail_reckons_from_its_feed(reasoner, topology, volts):
    (current,) = offered(reasoner, topology, MAINS[0]).of("rail-current")
    assert current.number("amperes") == pytest.approx((volts - 5.1) / 3300, rel=1e-3)


def test_the_source_that_feeds_a_rail_can_give_what_the_rail_may_take(reasoner):
    offer = offered(reasoner, "clamped-lamp", MAINS[0])
    (test,) = (t for t in offer.of("test") if t["name"] == "rail-current-control")
    (rig,) = (r for r in offer.of("rig") if r["name"] == "control-rail-fed")
    milliamperes = 1000 * (24 - 5.1) / 3300
    assert test.detail["answers"][0]["below"] == pytest.approx(milliamperes / 1000)
    assert milliamperes < 11
    assert "current limit 11 mA" in rig["how"]


def test_no_text_of_a_weakly_fed_unit_names_the_mains_peak(reasoner):
    for topology in ("dropper-lamp", "clamped-lamp"):
        texts = [str(t["good"]) for t in offered(reasoner, topology, MAINS[0]).of("test")
                 if "TP2" in str(t["name"])]  # fmt: skip
        assert texts
        assert not any("mains peak" in text for text in texts)


@pytest.mark.parametrize("topology", ["dropper-lamp", "clamped-lamp"])
def test_a_short_behind_what_limits_takes_no_more_from_the_mains(reasoner, topology):
    """The series capacitor lets 4 f C Vp past it, 31 mA, whatever lies behind it."""
    exploration = reasoner.explore(topology, MAINS[0])
    assert exploration.values["limiter-glow", "C2-short"] == "normal"
    assert exploration.values["volts-TP2", "C2-short"] == "none"
    assert exploration.values["volts-TP2", "C1-worn"] == "weak"
    assert exploration.values["limiter-glow", "C1-short"] == "heavy"


def doubted(tmp_path, name, text):
    """The doubts that a review of a unit tells."""
    own = folder(tmp_path / "shop", **{**feeds.FILES, name: text})
    knowledge = loader.read((own,))
    nothing = Exploration((), (), {}, {}, frozenset())
    deduction = Reasoner(knowledge).conclude(name, MAINS[0], nothing)
    unit = Unit(name, MAINS[0], deduction, None)
    return [str(doubt) for doubt in doubts(Scope.of(knowledge, own), unit)]


RATINGS = [
    ("dropper-lamp", "uF, volts: 35 V", "uF, volts: 25 V", "C2 (electrolytic capacitor, 100 µF) is "
     "rated for 25 V, and its place may carry 29 V"),
    ("clamped-lamp", "uF, volts: 16 V", "uF, volts: 4 V", "is rated for 4 V, and its rail is held"),
    ("transformer-lamp", "volts: 600 V", "volts: 20 V", "rated for 20 V, and meets up to 28 V"),
    ("transformer-lamp", "value: 5.1 V", "value: 51 V", "it never gets there"),
    ("dropper-lamp", "value: 3 V, count: 8", "value: 9 V, count: 60", "more than the mains' peak"),
    ("dropper-lamp", "lights, value: 3 V, ", "lights, ", "nobody can say what it carries"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "before", "after", "words"), RATINGS)
def test_a_rating_under_what_its_place_carries_is_doubted(tmp_path, name, before, after, words):
    text = feeds.UNITS[name]
    assert before in text
    remarks = doubted(tmp_path, name, text.replace(before, after))
    assert any(words in remark for remark in remarks)


def test_ratings_that_suffice_are_not_doubted(tmp_path):
    assert doubted(tmp_path, "dropper-lamp", feeds.DROPPER_LAMP) == []
