"""Is how a part is found knowledge, and does it reach every check that hands do?

The minutes and their ranges are common practice, no source: what skilled people would argue about.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from engine import library
from engine.assembly.builder import build
from engine.deduce import whereabouts
from engine.deduce.composition import Bench, compose
from engine.deduce.deduction import Reasoner
from engine.deduce.facts import Fact
from engine.model.records import Mains, Model
from engine.model.tracing import TRACING
from kb.language import loader
from kb.language.knowledge import Knowledge

LAMPS = ("buck-lamp", "enabled-lamp", "light-controlled-lamp")
GLANCE, PIN, PART = (0.2, 0, 0.5), (1.5, 1, 3), (0.5, 0.3, 1)
COMPARATOR_STAGE, SMALL_STAGE = (10, 6, 20), (5, 3, 8)
KINDS = {
    **dict.fromkeys(
        ("bridge-rectifier", "electrolytic", "inductor", "choke", "thyristor",
         "converter-controller", "comparator", "photodiode", "varistor", "fusible-resistor",
         "led-package", "joint"), ("glance", GLANCE)
    ),
    "sense-resistor": ("pin", PIN),
    **dict.fromkeys(("film-resistor", "ceramic-capacitor", "zener", "fast-diode"),
                    ("tracing", PART)),
}  # fmt: skip
PLACES = {
    ("light-control", "rail-clamp"): ("pin", PIN),
    ("light-control", "rail-store"): ("pin", PIN),
    ("light-control", "rail-feed"): ("pin", PIN),
    ("buck-converter", "measures"): ("pin", PIN),
    ("buck-converter", "keeps"): ("pin", PIN),
    ("buck-converter", "starts"): ("pin", PIN),
    ("light-control", "threshold-top"): ("tracing", PART),
    ("light-control", "threshold-foot"): ("tracing", PART),
    ("light-control", "steadies"): ("tracing", PART),
    ("buck-converter", "smooths"): ("glance", GLANCE),
    ("bulk-filter", "reservoir"): ("glance", GLANCE),
}
SIDES = {
    ("rectifier", "out"): "glance", ("bulk-filter", "out"): "glance",
    ("buck-converter", "out"): "glance",
    ("light-control", "rail"): "pin", ("light-control", "decision"): "pin",
}  # fmt: skip


@cache
def reasoner() -> Reasoner:
    """Compiled once."""
    return Reasoner(loader.as_shipped())


@cache
def model(topology: str, traced: frozenset[str] = frozenset(), depth: str = "part") -> Model:
    """A shipped lamp's model on a bench that has drawings of these stages."""
    bench = Bench(230, 50, traced=traced)
    return build(library.deduce(reasoner(), topology, bench), topology, bench, depth)


def finds(knowledge: Knowledge, topology: str, bench: Bench | None = None) -> dict[str, Fact]:
    """How each part and point of a lamp is found, of the structure alone."""
    facts = compose(knowledge, knowledge.topologies[topology], bench or Bench(230, 50))
    return {f.text("of"): f for f in facts if f.kind == "finds" and not f.text("at")}


def minutes(knowledge: Knowledge, by: str) -> tuple[float, float, float]:
    """The minutes of a way of finding, with their range."""
    span = knowledge.reaches[by].span  # type: ignore[index]
    return span.minutes, span.least, span.most


@pytest.mark.parametrize("kind", sorted(loader.as_shipped().parts))
def test_each_shipped_kind_says_how_it_is_found(kind: str) -> None:
    """And what it looks like."""
    found = loader.as_shipped().parts[kind].found
    assert found is not None
    assert found.looks


@pytest.mark.parametrize(("kind", "wanted"), KINDS.items())
def test_a_kind_is_found_as_on_a_real_bench(
    kind: str, wanted: tuple[str, tuple[float, float, float]]
) -> None:
    """Common practice, no source."""
    knowledge = loader.as_shipped()
    found = knowledge.parts[kind].found
    assert found is not None
    assert (found.by, minutes(knowledge, found.by)) == wanted


@pytest.mark.parametrize(("place", "wanted"), PLACES.items())
def test_a_place_tells_more_than_a_kind(
    place: tuple[str, str], wanted: tuple[str, tuple[float, float, float]]
) -> None:
    """A zener across a chip's supply pins is found by them, another is not."""
    knowledge = loader.as_shipped()
    found = knowledge.stages[place[0]].found[place[1]]
    assert (found.by, minutes(knowledge, found.by)) == wanted


def test_points_of_the_power_path_are_seen_those_of_a_chip_are_not() -> None:
    """Common practice, no source."""
    stages = loader.as_shipped().stages
    assert {(kind, side): stages[kind].sides[side].by for kind, side in SIDES} == SIDES


def test_tracing_takes_what_it_takes() -> None:
    """Common practice, no source: a comparator stage, a small driver stage, any other."""
    knowledge = loader.as_shipped()
    spans = (
        knowledge.stages["light-control"].trace, knowledge.stages["buck-converter"].trace,
        knowledge.reaches["stage"].span,
    )  # fmt: skip
    told = [(span.minutes, span.least, span.most) for span in spans if span is not None]
    assert told == [COMPARATOR_STAGE, SMALL_STAGE, SMALL_STAGE]


@pytest.mark.parametrize("topology", LAMPS)
def test_each_test_on_a_part_needs_tracing_exactly_where_only_a_drawing_shows_it(
    topology: str,
) -> None:
    """Watching and asking need none."""
    made, found = model(topology), finds(loader.as_shipped(), topology)
    tracings = {opening.id for opening in made.openings if opening.kind == TRACING}
    for test in made.tests:
        if test.on in found:
            wanted = {found[test.on].text("behind")} - {""}
            assert tracings & set(test.opened) == wanted, test.id
        else:
            assert not tracings & set(test.opened), test.id


@pytest.mark.parametrize("topology", LAMPS)
def test_each_check_by_hand_says_first_how_its_part_is_found(topology: str) -> None:
    """In its own words or, where it is clipped on, in those of its rig."""
    made, found = model(topology), finds(loader.as_shipped(), topology)
    by_hand = [test for test in made.tests if test.hands_on and test.on in found]
    assert by_hand
    for test in by_hand:
        words = (test.how, made.rig(test.rig).how)
        assert any(how.startswith(f"{test.on}: ") for how in words), test.id


def test_a_tracing_is_an_opening_that_shows_no_store() -> None:
    """It lies behind what shows its stage, and is warned of like any work near a store."""
    made = model("light-controlled-lamp")
    (tracing,) = (opening for opening in made.openings if opening.kind == TRACING)
    assert (tracing.id, tracing.stage, tracing.after) == (
        "trace-control", "control", ("driver-board",)
    )  # fmt: skip
    assert tracing.inside
    assert tracing.minutes == 10
    assert "stored-charge" in tracing.cautions
    assert all(tracing.id not in (store.exposed_by or ()) for store in made.stores)
    assert "R3, R4, R5, R6 and R7" in tracing.how


def test_a_stage_without_such_parts_is_never_traced() -> None:
    """Nor is any at stage depth, where no part is read that only a drawing shows."""
    assert [o.id for o in model("buck-lamp").openings if o.kind == TRACING] == []
    lamp = model("light-controlled-lamp", depth="stage")
    assert [o.id for o in lamp.openings if o.kind == TRACING] == []


def test_a_drawing_at_hand_costs_nothing() -> None:
    """And everything else is as it was."""
    plain = model("light-controlled-lamp")
    drawn = model("light-controlled-lamp", frozenset({"control"}))
    tracing = drawn.opening("trace-control")
    assert tracing.minutes == 0
    assert "traced already" in tracing.says
    assert drawn.tests == plain.tests
    assert drawn.rigs == plain.rigs


def test_what_is_found_in_a_rig_is_not_found_again() -> None:
    """The minutes of a look, a pin or a drawing stand where the hands look for the part."""
    made = model("light-controlled-lamp")
    assert made.opening("lead-TP2").minutes == pytest.approx(0.5 + PIN[0])
    assert made.rig("meter-on-leads").minutes == 0.5
    assert made.test("volts-TP2").minutes == 0.4
    assert made.test("ohms-C1").minutes == pytest.approx(1 + GLANCE[0])
    assert made.test("ohms-R4").minutes == pytest.approx(1 + PART[0])
    full = library.model("light-controlled-lamp", mains=Mains(230, 50), having=library.everything())
    assert full.rig("control-rail-fed").minutes == pytest.approx(2 + PIN[0])
    assert made.rig("sensor-covered").minutes == 0.5


def test_the_model_tells_the_range_of_each_search() -> None:
    """And whose minutes hold it."""
    found = {find.of: find for find in model("light-controlled-lamp").finds}
    assert (found["R4"].minutes, found["R4"].least, found["R4"].most) == PART
    assert found["R4"].tests == ("ohms-R4",)
    assert found["TP2"].openings == ("lead-TP2",)
    assert found["control"].openings == ("trace-control",)
    assert (found["control"].least, found["control"].most) == COMPARATOR_STAGE[1:]


def test_a_marking_is_usual_until_it_was_read() -> None:
    """Values of a topology are typical ones."""
    knowledge = loader.as_shipped()
    usual = finds(knowledge, "light-controlled-lamp")["R2"].text("where")
    read = finds(
        knowledge, "light-controlled-lamp", Bench(230, 50, markings=(("R2", "330k"),))
    )["R2"].text("where")
    assert usual.endswith("usually marked 474")
    assert read.endswith("; marked 334")
    assert finds(knowledge, "buck-lamp")["R1"].text("where").endswith(
        "usually banded brown, black, black"
    )


def test_what_nobody_says_is_found_by_tracing() -> None:
    """A part on a drawing, a point from a part that one knows; in a sentence, and never refused."""
    shipped = loader.as_shipped()
    parts = {name: replace_model(kind, found=None) for name, kind in shipped.parts.items()}
    stages = {
        name: replace_model(kind, found={}, sides={}, trace=None)
        for name, kind in shipped.stages.items()
    }
    silent = replace(shipped, parts=parts, stages=stages)
    found = finds(silent, "buck-lamp")
    assert found["R3"].text("by") == "tracing"
    assert found["R3"].text("where").startswith("see your drawing")
    assert found["TP3"].text("by") == "pin"
    assert found["TP3"].text("where") == "follow the tracks from a part you know"
    facts = compose(silent, silent.topologies["buck-lamp"], Bench(230, 50))
    spans = {f.text("name"): f.number("minutes") for f in facts if f.kind == "traces"}
    assert spans["trace-driver"] == SMALL_STAGE[0]


def test_older_knowledge_without_the_words_finds_nothing() -> None:
    """So that it can still be compared with."""
    older = replace(loader.as_shipped(), reaches={})
    assert finds(older, "buck-lamp") == {}


def replace_model(kind, **changes):  # type: ignore[no-untyped-def]
    """A copy of an entry with other fields."""
    return kind.model_copy(update=changes)


def test_the_model_is_read_again_as_it_was_written() -> None:
    """Tracings and searches included."""
    made = library.model("light-controlled-lamp", mains=Mains(230, 50))
    assert made.opening("trace-control").kind == TRACING
    assert made.finds


@pytest.mark.parametrize(
    ("volts", "read", "words"),
    [
        (230, {}, "usually marked 6.8 µF"),
        (120, {}, "usually marked 10 µF"),
        (230, {"C1": "4.7 uF"}, "marked 4.7 µF"),
        (120, {"C1": "4.7 uF"}, "marked 4.7 µF"),
    ],
)  # fmt: skip
def test_what_is_printed_on_a_part_is_certain_only_where_it_was_read(
    volts: float, read: dict[str, str], words: str
) -> None:
    """At these mains it is the value that the unit lists for them, without a reading."""
    shipped = loader.as_shipped()
    unit = whereabouts.Unit(shipped, shipped.topologies["buck-lamp"], volts, read, frozenset())
    (where,) = (f.text("where") for f in whereabouts.facts(unit) if f.text("of") == "C1")
    assert words in where
    assert ("usually" in where) == (not read)
