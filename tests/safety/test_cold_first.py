"""After a bang, a smell, a trip or damage: is every way cold until a short check has passed?

The ways of a chart are followed over the two plain documents, with the odds of each fault carried
along: neither the planner's word nor the model's `requires` is taken for it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache, partial
from itertools import product
from typing import Any

import pytest

from engine import library
from engine.audit import audit
from engine.chart.drawing import document as chart_document
from engine.chart.drawing import draw_up
from engine.model.records import Mains, Model
from engine.model.records import document as model_document
from engine.planner import plan
from engine.walk import entry, job, prepared
from engine.walk.job import Outset
from engine.walk.state import Walk
from tests.planned import Remembering

TOPOLOGIES = [topology.id for topology in library.topologies()]
SUPPLIES = {"230/50": Mains(230.0, 50.0), "120/60": Mains(120.0, 60.0)}
ANY_OF_THEM = "bang-smell-trip-damage"
EACH = ["died-with-flash", "burnt-smell", "trips-protection", "broken-mechanical"]
CASES = [
    *product(TOPOLOGIES, SUPPLIES, ["stage", "part"], [ANY_OF_THEM]),
    *product(TOPOLOGIES, ["230/50"], ["stage"], EACH),
]
LIVE = {"mains", "hvdc"}
GONE = 0.05
"""Odds that a fault keeps at most, of those it had, once an answer has excluded it."""

Document = dict[str, Any]


@cache
def unit(topology: str, mains: str, depth: str, complaint: str) -> Model:
    return library.model(topology, mains=SUPPLIES[mains], depth=depth, complaint=complaint)


@dataclass(frozen=True, slots=True)
class Arrival:
    """A node come to by one way: the answers on it, and what is left of each fault's odds."""

    node: Document
    answers: tuple[tuple[str, str], ...]
    left: Mapping[str, float]


def arrivals(model: Document, chart: Document) -> Iterator[Arrival]:
    """Every node by every way that some fault can take."""

    def onward(name: str, answers: tuple[tuple[str, str], ...], left: Mapping[str, float]
               ) -> Iterator[Arrival]:  # fmt: skip
        node = chart["nodes"][name]
        yield Arrival(node, answers, left)
        if node["kind"] == "setup":
            yield from onward(node["next"], answers, left)
        for outcome, follower in node.get("branches", {}).items():
            rows = model["likelihood"][node["test"]]
            after = {f: odds * rows[f].get(outcome, 0.0) for f, odds in left.items()}
            if any(after.values()):
                yield from onward(follower, (*answers, (node["test"], outcome)), after)

    yield from onward(chart["root"], (), {fault["id"]: 1.0 for fault in model["faults"]})


def at_contacts(model: Document) -> dict[str, Document]:
    """The readings between the contacts of the closed unit that can show a short."""
    return {
        test["id"]: test for test in model["tests"]
        if test["point"] == "" and test["rig"] == "none" and test["hands_on"]
        and not {o["id"] for o in model["openings"] if o["inside"]} & set(test["opened"])
        and any(outcome["short"] for outcome in test["outcomes"])
    }  # fmt: skip


def seen_there(model: Document) -> set[str]:
    """The faults whose short shows between the contacts."""
    return {
        fault["id"] for fault in model["faults"] for test in at_contacts(model).values()
        if sum(
            model["likelihood"][test["id"]][fault["id"]].get(o["id"], 0.0)
            for o in test["outcomes"] if o["short"]
        ) > 0.5
    }  # fmt: skip


def behind_an_open_fuse(model: Document) -> set[str]:
    """The faults that opened a fusible part, be it alone: the contacts show nothing of them. A
    resistor in front of no more than the string, which may burn too, hides no short from them."""
    own = {f["id"]: f["says"] for f in model["faults"]}
    took = {f["parts"][-1]["part"] for f in model["faults"] if "-took-R" in f["id"]}
    took = {part for part in took if "fusible" in own[f"{part}-open"]}
    assert took
    return {f["id"] for f in model["faults"] if took & {p["part"] for p in f["parts"]}}


def asks_the_owner(test: Document) -> bool:
    """Whether nobody touches or looks at the unit for it."""
    return test["opened"] == ["cold-checks"] and not test["hands_on"]


@pytest.mark.parametrize(("topology", "mains", "depth", "complaint"), CASES)
def test_every_way_is_cold_until_a_short_check_has_passed(
    topology: str, mains: str, depth: str, complaint: str
) -> None:
    """Nothing closed-only at all; nothing live and no question to the owner before the contacts
    and the fusible part were read good; no repair before the contacts were read."""
    made = unit(topology, mains, depth, complaint)
    chart = chart_document(draw_up(made, plan(made, seconds=0.0, effort=1e8)))
    model = model_document(made)
    assert audit(model, chart) == ()
    tests = {test["id"]: test for test in model["tests"]}
    supplies = {a["id"]: a for a in model["supply"]["arrangements"]}
    remedies = {remedy["id"]: remedy for remedy in model["remedies"]}
    checks, shorts, fused = at_contacts(model), seen_there(model), behind_an_open_fuse(model)
    assert checks
    assert shorts
    for here in arrivals(model, chart):
        read = [answer for answer in here.answers if answer[0] in checks]
        cleared = bool(read) and all(here.left[f] <= GONE for f in shorts)
        whole = all(here.left[f] <= GONE for f in fused)
        match here.node["kind"]:
            case "setup":
                assert not supplies[here.node["supply"]]["closed_only"]
                # at first the unit is left alone, or a store is measured at its contacts
                assert here.answers or set(here.node["open"]) <= {"cold-checks"}
                assert here.answers or supplies[here.node["supply"]]["energy"] not in LIVE
            case "test":
                test = tests[here.node["test"]]
                live = supplies[test["supply"]]["energy"] in LIVE
                assert here.answers or test["id"] in checks
                assert cleared or not (live or asks_the_owner(test))
                if live and not whole:
                    assert test["mends"]
                    assert all(here.left[f] <= GONE for f in fused if "-took-" in f)
            case "verdict":
                kind = remedies[here.node["remedy"]]["kind"]
                assert read or kind in ("scrap", "refuse")
                assert kind not in ("none", "outside") or (cleared and whole)


def walked(begun: Walk, fault: str) -> Walk:
    """The walk of a unit with that fault, each answer the likeliest."""
    model = begun.model
    answers = {}
    for test in model.tests:
        row = model.row(test.id, fault)
        answers[test.id] = prepared.Answer(test.id, ((max(row, key=lambda o: row[o]), 1.0),))
    return prepared.work_through(begun, answers)


@pytest.mark.parametrize("mains", SUPPLIES)
@pytest.mark.parametrize("topology", TOPOLOGIES)
def test_no_walk_is_energised_before_the_contacts_read_free_of_a_short(
    topology: str, mains: str
) -> None:
    """Of every fault, admitted after a bang and not; off the plan as well, for want of an ohm
    check that it would rather do."""
    made = unit(topology, mains, "stage", ANY_OF_THEM)
    checks = at_contacts(model_document(made))
    planner = Remembering(0.0, effort=5e7)
    admission = entry.admit(made, {"bang-smell-trip": "a bang or flash"})
    for cold, lacking in product((entry.cold_checks(made, admission), frozenset[str]()), (0, 1)):
        withdrawn = entry.barred_tests(made, admission)
        withdrawn |= {t.id for t in made.tests if lacking and t.id.startswith("continuity")}
        begun = job.begin(Outset(made, withdrawn, admission.answers, cold_first=cold), planner)
        for fault in made.faults:
            walk = walked(begun, fault.id)
            asked = [step for step in walk.steps if step.test]
            assert asked[0].test in checks
            passed = False
            for step in walk.steps:
                assert passed or made.arrangement(step.bench.supply).energy not in LIVE
                if step.test in checks:
                    passed = not made.test(step.test).outcome(step.answer or "").short


def test_without_its_meter_range_a_unit_stays_cold() -> None:
    """The short check can't be done, so nothing is energised and nothing is returned."""
    made = unit("buck-lamp", "230/50", "part", ANY_OF_THEM)
    quick = partial(plan, seconds=0.0, effort=5e7)
    begun = job.begin(Outset(made, frozenset(at_contacts(model_document(made)))), quick)
    for fault in made.faults:
        walk = walked(begun, fault.id)
        assert not {made.arrangement(s.bench.supply).energy for s in walk.steps} & LIVE
        ended = walk.plan.nodes[walk.node]
        assert made.remedy(ended.remedy).kind in ("scrap", "refuse")  # type: ignore[union-attr]
