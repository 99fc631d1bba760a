"""Fault and design weighed together against another program's exact inference: pgmpy's variable
elimination on a net with the design as a variable, and a reading as a child of the true outcome."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest
from pgmpy.factors.discrete import TabularCPD
from pgmpy.inference import VariableElimination
from pgmpy.models import DiscreteBayesianNetwork

from engine.circuit.dictionary import Cell, Dictionary, Sibling
from engine.evidence import Joint, Take, witness
from engine.evidence.make import apply_build
from engine.evidence.table import UNLISTED, UNLISTED_OTHERWISE
from engine.evidence.witness import UNSEEN, WATCHED_WORD
from engine.model.records import Manner, Model, Outcome, Test
from engine.readings import belief as beliefs
from tests.models import tiny_model

FAULTS = ("whole", "switch", "feed")
PRIORS = (0.5, 0.3, 0.2)
SHOWS = ("lit", "dim", "dark")
SLIP = {one: {other: 0.03 for other in SHOWS if other != one} for one in SHOWS}
RULES = {
    "socket": {"whole": "lit", "switch": "dark", "feed": {"dim": 0.5, "dark": 0.5}},
    "bridged": {"whole": "lit", "switch": "lit", "feed": {"dim": 0.7, "dark": 0.3}},
    "covered": {"whole": {"lit": 0.9, "dim": 0.1}, "switch": "dark", "feed": "dim"},
}  # fmt: skip
SIGHTS = {
    "socket": {"whole": ("lit", "lit", "lit", "dim"), "switch": ("dark",) * 4,
               "feed": ("dark", "dim", "dark", "dim")},
    "bridged": {"whole": ("lit", "lit", "lit", "dim"), "switch": ("lit", "lit", "dim", "dim"),
                "feed": ("dim", "dim", "dark", "dark")},
    "covered": {"whole": ("lit", "dim", "lit", "dim"), "switch": ("dark", "dark", "dim", "dark"),
                "feed": ("dim", "dark", "dim", "dark")},
}  # fmt: skip
"""What the nominal design and three sampled ones show."""
DRAWS = np.array([2 / 9, 1 / 3, 1 / 3, 1 / 3]) * 9 / 11
"""Their shares before anything is known: two of the sampled three are marked like the nominal."""


@dataclass(frozen=True)
class State:
    """One state of the net's fault: a fault, or one of its manners, with the rules' word of it."""

    fault: str
    prior: float
    rules: dict[str, Any]


PLAIN = tuple(
    State(fault, prior, {test: RULES[test][fault] for test in RULES})
    for fault, prior in zip(FAULTS, PRIORS, strict=True)
)
MANNERS = (
    Manner("feed", "weak", 0.5, {"socket": {"dim": 1.0}, "bridged": {"dim": 1.0}}),
    Manner("feed", "none", 0.5, {"socket": {"dark": 1.0}, "bridged": {"dim": 0.4, "dark": 0.6}}),
)
IN_MANNERS = (
    *PLAIN[:2], *(State("feed", 0.1, {**PLAIN[2].rules, **one.shows}) for one in MANNERS),
)  # fmt: skip


def lamp() -> Model:
    """Three faults told apart by the light in three tests; each misread now and then."""
    tests = [
        Test(name, name, 1.0, (), "dead", "none", True, tuple(Outcome(o, o) for o in SHOWS),
             misread=SLIP) for name in RULES
    ]  # fmt: skip
    return tiny_model(dict(zip(FAULTS, PRIORS, strict=True)), tests, RULES)


def designs() -> Dictionary:
    """A nominal unit and three sampled ones, all weighed alike; the last has no choke."""
    model = lamp()
    units = (*(Sibling({"L1": 1.0}, weight=1 / 3) for _ in range(2)),
             Sibling({}, absent=frozenset({"L1"}), weight=1 / 3))  # fmt: skip
    cells = {
        test: {
            fault: Cell(shown[0], None, tuple((one, None) for one in shown[1:]))
            for fault, shown in row.items()
        }
        for test, row in SIGHTS.items()
    }
    return Dictionary(model.topology, model.mains, {}, {"L1": 1.0}, units, cells, {})


def net(
    shares: Sequence[float], takes: dict[str, int], states: Sequence[State] = PLAIN
) -> VariableElimination:
    """Fault and design as roots, a test's true outcome under both, each of its readings under it.

    `shares` are the designs' odds, the unlisted one last, which shows what the others do by theirs,
    and in part what any fault shows.
    """
    model = DiscreteBayesianNetwork()
    model.add_nodes_from(["fault", "design"])
    cpds = [
        TabularCPD("fault", len(states), np.array([[one.prior] for one in states])),
        TabularCPD("design", 5, np.array(shares).reshape(-1, 1)),
    ]
    for test, count in takes.items():
        model.add_edges_from([("fault", test), ("design", test)])
        columns = [column(test, state, number, shares)
                   for state, number in itertools.product(states, range(5))]  # fmt: skip
        sizes = [len(states), 5]
        cpds.append(TabularCPD(test, 3, np.array(columns).T, ["fault", "design"], sizes))
        slips = np.array([[SLIP[true].get(told, 0.94) for true in SHOWS] for told in SHOWS])
        for number in range(count):
            model.add_edge(test, f"{test} {number}")
            cpds.append(TabularCPD(f"{test} {number}", 3, slips, [test], [3]))
    model.add_cpds(*cpds)
    assert model.check_model()
    return VariableElimination(model)


def column(test: str, state: State, number: int, shares: Sequence[float]) -> list[float]:
    """Odds of each true outcome; the unlisted design shows in part what it shows by any fault."""
    own = plain_column(test, state, number, shares)
    if number < 4:
        return own
    every = sum(
        one.prior * drawn * np.array(plain_column(test, one, design, shares))
        for one in PLAIN
        for design, drawn in enumerate(DRAWS)
    )
    mixed: list[float] = (
        (1.0 - UNLISTED_OTHERWISE) * np.array(own) + UNLISTED_OTHERWISE * every
    ).tolist()
    return mixed


def plain_column(test: str, state: State, number: int, shares: Sequence[float]) -> list[float]:
    """The rules' and the design's word, half and half."""
    rule: Any = state.rules[test]
    told = {rule: 1.0} if isinstance(rule, str) else rule
    seen = SIGHTS[test][state.fault]
    if number < 4:
        own = [float(seen[number] == one) for one in SHOWS]
        weight = 1.0
    else:
        sampled = np.array(shares[:4]) / sum(shares[:4])
        own = [sum(w for w, o in zip(sampled, seen, strict=True) if o == one) for one in SHOWS]
        weight = 1.0
    drawn = [(p + UNSEEN / 3) / (weight + UNSEEN) for p in own]
    return [
        WATCHED_WORD * p + (1.0 - WATCHED_WORD) * told.get(one, 0.0)
        for p, one in zip(drawn, SHOWS, strict=True)
    ]


TALES = (
    (("socket", "dark"),),
    (("socket", "dim"), ("bridged", "dim")),
    (("bridged", "dark"), ("covered", "lit"), ("socket", "dim")),
    (("socket", "dark"), ("socket", "dim"), ("covered", "dark"), ("bridged", "lit")),
    (("covered", "dim"), ("bridged", "dim"), ("covered", "dim"), ("socket", "lit")),
)


Tale = tuple[tuple[str, str], ...]
"""Tests and what each showed, in order."""


def counted(tale: Tale) -> dict[str, int]:
    """How often each test is read."""
    return {test: sum(name == test for name, _ in tale) for test, _ in tale}


def weighed(
    joint: Joint, tale: Tale
) -> Iterator[tuple[dict[str, float], dict[str, tuple[Take, ...]], dict[str, int]]]:
    """After each reading the belief, the readings so far, and the same as evidence of the net."""
    belief = dict(zip(FAULTS, PRIORS, strict=True))
    history: dict[str, tuple[Take, ...]] = {}
    evidence: dict[str, int] = {}
    for test, shows in tale:
        take = Take("", ((shows, 1.0),))
        testimony = joint.testimony(history, test, take)
        assert testimony is not None
        belief = beliefs.weigh(belief, testimony.factors)
        evidence[f"{test} {len(history.get(test, ()))}"] = SHOWS.index(shows)
        history[test] = (*history.get(test, ()), take)
        yield belief, history, evidence


@pytest.mark.parametrize("tale", TALES)
@pytest.mark.parametrize("gone", [None, True, False])
def test_belief_over_fault_and_design_is_pgmpys(
    tale: Tale, gone: bool | None
) -> None:
    """Answer by answer, repeats and misreads and all; with a part not there, there, or unknown."""
    model, made = lamp(), designs()
    heard = witness(model, made)
    if gone is not None:
        heard = heard.narrower(apply_build(heard.make, made, {"L1": gone}))
    joint = Joint(heard)
    exact = net(joint.prior.tolist(), counted(tale))
    for belief, history, evidence in weighed(joint, tale):
        answer = exact.query(["fault"], evidence, show_progress=False).values
        assert [belief[fault] for fault in FAULTS] == pytest.approx(answer, rel=1e-9)
        shares = np.array([belief[fault] for fault in FAULTS]) @ joint.designs(history)
        drawn = exact.query(["design"], evidence, show_progress=False).values
        assert shares == pytest.approx(drawn, rel=1e-9)


@pytest.mark.parametrize("tale", TALES)
def test_belief_over_fault_manner_and_design_is_pgmpys(tale: Tale) -> None:
    """A manner is a state of the net's fault: drawn once, whatever is looked at."""
    joint = Joint(witness(replace(lamp(), manners=MANNERS), designs()))
    exact = net(joint.prior.tolist(), counted(tale), IN_MANNERS)
    for belief, _, evidence in weighed(joint, tale):
        whole, switch, *feed = exact.query(["fault"], evidence, show_progress=False).values
        answer = [whole, switch, sum(feed)]
        assert [belief[fault] for fault in FAULTS] == pytest.approx(answer, rel=1e-9)


def test_the_designs_odds_are_those_of_the_make() -> None:
    """The sampled alike before anything is known, the nominal one as far as two of three are marked
    like it; without a choke the others go; the unlisted keeps its own."""
    model, made = lamp(), designs()
    free = Joint(witness(model, made)).prior
    assert free[:4] == pytest.approx((1.0 - UNLISTED) * DRAWS)
    assert free[4] == UNLISTED
    heard = witness(model, made)
    without = Joint(heard.narrower(apply_build(heard.make, made, {"L1": True}))).prior
    assert without[3] > 5 * without[1]


def test_odds_of_a_misreading_are_pgmpys() -> None:
    """What one reading was worth after the second, under each fault."""
    model, made = lamp(), designs()
    joint = Joint(witness(model, made))
    first, second = (Take("", ((told, 1.0),)) for told in ("dark", "dim"))
    both = joint.reread({"bridged": (second,)}, "socket", (first, second))
    exact = net(joint.prior.tolist(), {"socket": 2, "bridged": 1})
    evidence = {"socket 0": 2, "socket 1": 1, "bridged 0": 1}
    for at, fault in enumerate(FAULTS):
        true = exact.query(["socket"], {**evidence, "fault": at}, show_progress=False).values
        assert both.misread(0)[at] == pytest.approx(1.0 - true[2], rel=1e-9), fault
        assert both.misread(1)[at] == pytest.approx(1.0 - true[1], rel=1e-9), fault
