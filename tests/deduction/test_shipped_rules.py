"""The shipped rules, on both topologies, conclude what the plain chainer of `oracle` concludes."""

import random
from functools import cache

import pytest

from engine.deduce.chaining import compile_rules
from engine.deduce.composition import Bench, compose
from engine.deduce.deduction import Reasoner
from engine.deduce.suppose import Supposal, Trial, Unit, scenes
from kb.language import loader
from tests.deduction.oracle import follows

TOPOLOGIES = ("buck-lamp", "enabled-lamp", "light-controlled-lamp")
SAMPLES = 8


@cache
def knowledge():
    return loader.read()


def rules_of(step):
    return [rule for rule in knowledge().rules.values() if rule.step == step]


@cache
def surveyed(topology):
    unit = compose(knowledge(), knowledge().topologies[topology], Bench(230, 50))
    return compile_rules(rules_of("survey"), {}).run(unit)


@cache
def offered(topology):
    return compile_rules(rules_of("offer"), {}).run(surveyed(topology).facts)


def given_to(findings):
    return [fact for fact in findings.facts if fact not in findings.causes]


@pytest.mark.parametrize("topology", TOPOLOGIES)
@pytest.mark.parametrize(("step", "done"), [("survey", surveyed), ("offer", offered)])
def test_structure_and_offers_follow(topology, step, done):
    found = done(topology)
    assert set(found.facts) == follows(rules_of(step), given_to(found))


@pytest.mark.parametrize(
    ("topology", "complaint"),
    [
        ("buck-lamp", None),
        ("buck-lamp", "never-lights"),
        ("light-controlled-lamp", "died-with-flash"),
    ],
)
def test_conclusions_follow(topology, complaint):
    """Given what a deduction gave its last step."""
    once = Reasoner(knowledge()).deduce(topology, Bench(230, 50, complaint)).once
    last = {rule.id for rule in rules_of("conclude")}
    given = [f for f in once.facts if f not in once.causes or once.causes[f].rule not in last]
    assert set(once.facts) == follows(rules_of("conclude"), given)


def trials(topology):
    """Every supply and surroundings, with and without each rig that rules know of."""
    rigs = {(f.text("does"), f.text("on")) for f in offered(topology).of("rig")}
    feeds = {a.energy: a.feeds for a in knowledge().arrangements.values()}
    for energy, fed in feeds.items():
        for words in ((), ("dark",), ("dusk", "home"), ("dark", "warm")):
            around = scenes(knowledge(), words)
            yield Trial(energy, fed, (), around)
            yield from (Trial(energy, fed, (rig,), around) for rig in sorted(rigs))


def supposals(topology):
    """Each part failing in each of its ways, two at once now and then, and all sound."""
    modes = [(m.text("part"), m.text("acts")) for m in offered(topology).of("mode")]
    yield Supposal("sound")
    yield Supposal("unlisted", (), unlisted=True)
    yield from (Supposal(f"{part} {acts}", ((part, acts),)) for part, acts in modes)
    for one, other in zip(modes, modes[7:], strict=False):
        yield Supposal(f"{one} {other}", (one, other))


@pytest.mark.parametrize("topology", TOPOLOGIES)
@pytest.mark.parametrize("seed", range(SAMPLES))
def test_what_a_fault_shows_follows(topology, seed):
    """Though the real chainer has joined the rules with the unit beforehand."""
    chance = random.Random(seed)
    unit = Unit(knowledge(), rules_of("suppose"), {}, offered(topology).facts)
    supposal = chance.choice(list(supposals(topology)))
    found = unit.suppose(supposal, chance.choice(list(trials(topology)))).findings
    assert set(found.facts) == follows(rules_of("suppose"), given_to(found))


@pytest.mark.parametrize("topology", TOPOLOGIES)
@pytest.mark.parametrize("seed", range(SAMPLES))
def test_what_is_sought_comes_out_the_same_without_the_rules_it_can_not_depend_on(topology, seed):
    chance = random.Random(seed)
    unit = Unit(knowledge(), rules_of("suppose"), {}, offered(topology).facts)
    supposal, trial = (
        chance.choice(list(choices(topology))) for choices in (supposals, trials)
    )  # fmt: skip
    whole = unit.suppose(supposal, trial).claims
    for quantity in knowledge().quantities:
        part = unit.suppose(supposal, trial, frozenset({quantity})).claims
        assert {at: f["is"] for (kind, at), f in part.items() if kind == quantity} == {
            at: f["is"] for (kind, at), f in whole.items() if kind == quantity
        }
