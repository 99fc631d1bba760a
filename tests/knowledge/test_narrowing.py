"""A shop narrows, extends or answers a shipped rule without copying it; two shops' words join."""

from __future__ import annotations

import pytest

from engine.deduce.composition import Bench
from engine.deduce.deduction import Reasoner
from kb.language import loader
from kb.language.lint import lint
from kb.trouble import TroubleError
from tests.knowledge.shop import CORD_LAMP, folder

BENCH = Bench(230.0, 50.0)
HALL_LAMP = CORD_LAMP.replace("topology: cord-lamp", "topology: hall-lamp")
HEAD = """\
narrowings:
  - narrowing: shop-habit
    rule: {rule}
    says: So the shop has found it.
    source: the shop's own habit
"""


def knowledge(tmp_path, text, **more):
    own = folder(tmp_path / "shop", cord_lamp=CORD_LAMP, hall_lamp=HALL_LAMP, own=text, **more)
    result = loader.read((own,))
    assert [str(trouble) for trouble in lint(result)] == []
    return result


def offers(reasoner, unit, kind="test"):
    _, offer = reasoner.survey(unit, BENCH)
    return {fact.text("name") for fact in offer.of(kind)}


def test_another_unless_narrows_a_rule(tmp_path):
    text = HEAD.format(rule="tap-it") + "    unless: [part: {kind: fusible-resistor}]\n"
    reasoner = Reasoner(knowledge(tmp_path, text))
    assert "tap-it" not in offers(reasoner, "cord-lamp")
    assert "tap-it" not in offers(reasoner, "buck-lamp")
    assert "run-warm" in offers(reasoner, "buck-lamp")


def test_another_when_narrows_a_rule(tmp_path):
    text = HEAD.format(rule="tap-it") + "    when: [part: {place: senses}]\n"
    reasoner = Reasoner(knowledge(tmp_path, text))
    assert "tap-it" not in offers(reasoner, "cord-lamp")
    assert "tap-it" in offers(reasoner, "enabled-lamp")


def test_one_unit_alone_is_narrowed(tmp_path):
    text = HEAD.format(rule="tap-it")
    text += "    units: [hall-lamp]\n    when: [part: {place: senses}]\n"
    reasoner = Reasoner(knowledge(tmp_path, text))
    assert "tap-it" in offers(reasoner, "cord-lamp")
    assert "tap-it" not in offers(reasoner, "hall-lamp")


def test_one_claim_is_another_for_one_unit(tmp_path):
    """In the hall lamp a worn reservoir makes it flash, for its driver starts anew each time."""
    text = HEAD.format(rule="worn-reservoir-ripples") + (
        "    units: [hall-lamp]\n    instead: [volts: {at: $n, is: pulsing}]\n"
    )
    reasoner = Reasoner(knowledge(tmp_path, text))
    shown = {unit: reasoner.explore(unit, BENCH).values["known-good-socket", "C1-worn-flat"]
             for unit in ("cord-lamp", "hall-lamp")}  # fmt: skip
    assert shown == {"cord-lamp": "shimmers", "hall-lamp": "flashes"}


def test_a_rule_follows_from_other_conditions_too(tmp_path):
    text = HEAD.format(rule="head-is-alternating")
    text += "    also_when: [leaves: {stage: leds, node: $n}]\n"
    plain = Reasoner(knowledge(tmp_path, "parts: []\n"))
    extended = Reasoner(knowledge(tmp_path, text))

    def alternating(reasoner):
        survey, _ = reasoner.survey("cord-lamp", BENCH)
        return {fact["at"] for fact in survey.of("nature") if fact["is"] == "alternating"}

    assert alternating(extended) >= alternating(plain)
    assert any(rule.endswith(".shop-habit-also") for rule in extended.knowledge.rules)


WRONG = [
    ("tap-itt", "    when: [part: {place: senses}]\n", "KB623", "Write 'tap-it'"),
    ("tap-it", "", "KB623", "changes nothing of 'tap-it'"),
    ("arrangement-limited-mains", "    unless: [part: {place: senses}]\n", "KB109", "safety rule"),
    ("tap-it", "    unless: [part: {place: sensess}]\n", "KB621", "Write 'senses'"),
    ("tap-it", "    instead: [tapped: {at: $zz, is: same}]\n", "KB603", "uses $zz"),
]


@pytest.mark.parametrize(("rule", "more", "code", "words"), WRONG)
def test_a_narrowing_that_can_not_be_used_is_told_at_its_line(tmp_path, rule, more, code, words):
    own = folder(tmp_path / "shop", own=HEAD.format(rule=rule) + more)
    try:
        troubles = list(lint(loader.read((own,))))
    except TroubleError as error:
        troubles = list(error.troubles)
    assert [trouble.code for trouble in troubles] == [code]
    assert words in str(troubles[0])
    assert troubles[0].place.source.endswith("own.yaml")


SEES = "what the owner would see"
SHARED = (
    "fault: the fault, light: the light in the dark, daylight: the light by day, "
    "dusk: the light at dusk, warm: the light when warm, draw: what it draws"
)


def fact(more, rest=""):
    return f"facts:\n  - {{fact: in-use, says: {SEES}, fields: {{{SHARED}, {more}}}{rest}}}\n"


@pytest.mark.parametrize("apart", [True, False])
def test_two_shops_add_to_one_kind_of_fact(tmp_path, apart):
    """In folders of their own, or as two files of one folder."""
    first, second = fact("sound: the sound it gives"), fact("smell: the smell it gives")
    if apart:
        folders = (folder(tmp_path / "one", a=first), folder(tmp_path / "two", b=second))
    else:
        folders = (folder(tmp_path / "both", a=first, b=second),)
    kind = loader.read(folders).facts["in-use"]
    assert {"sound", "smell", "light", "draw"} <= set(kind.fields)
    assert {"sound", "smell"} <= set(kind.optional)


def test_two_shops_that_contradict_each_other_are_told(tmp_path):
    first, second = fact("sound: the sound it gives"), fact("sound: decibels", ", numbers: [sound]")
    with pytest.raises(TroubleError) as caught:
        loader.read((folder(tmp_path / "one", a=first), folder(tmp_path / "two", b=second)))
    (trouble,) = caught.value.troubles
    assert trouble.code == "KB115"
    assert "one/a.yaml:2:5" in str(trouble)
