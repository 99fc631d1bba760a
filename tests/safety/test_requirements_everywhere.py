"""Does any chart or walk name a part that nothing measured, feed a short, or trust an open fuse?

`tests.safety.measured` is the witness: it reads off the knowledge which test is whose own check,
and off the odds what frees a part of a short; it does not look at what the model says is required.
Charts are of short planning time, for what they must keep they keep unproved, too. Each topology,
mains and depth has some of the complaints, all complaints come up for each topology; `python -m
tests.bench.requirement_walks --charts` goes through them all, and without it through 10,000 walks.
"""

from __future__ import annotations

import dataclasses
from collections import Counter

import pytest

from engine import library
from engine.model.records import Model, Remedy, Test
from kb.language.loader import as_shipped
from tests.safety.drawn_charts import by_chance, drawn
from tests.safety.fuzz_walk import MAINS, shipped
from tests.safety.measured import Measured, chart_breaches, knowing
from tests.safety.required_walks import Tally, walked

TOPOLOGIES = [topology.id for topology in library.topologies()]
COMPLAINTS = (None, *sorted(as_shipped().complaints))
UNITS = [(t, m, d) for t in TOPOLOGIES for m in range(len(MAINS)) for d in ("stage", "part")]
FEARED = {
    "buck-lamp": {"rectifies", "guards", "reservoir", "chops"},
    # a short behind the series capacitor draws no more than that lets past
    "capacitor-dropper-lamp": {"guards", "line"},
    "enabled-lamp": {"chops"},  # its fuse lies behind bridge and surge part, and it has no bulk
    "light-controlled-lamp": {"rectifies", "guards", "reservoir", "chops"},
    "linear-lamp": {"rectifies", "guards", "reservoir", "controls"},
}


def law_of(topology: str, mains: int, model: Model) -> Measured:
    return Measured(model, knowing(topology, MAINS[mains]))


@pytest.mark.parametrize(("topology", "mains", "depth"), UNITS)
def test_no_chart_names_what_it_did_not_measure(topology: str, mains: int, depth: str) -> None:
    turn = UNITS.index((topology, mains, depth)) % 4
    for complaint in COMPLAINTS[turn::4]:
        model = shipped(topology, mains, depth, complaint).model
        found = chart_breaches(law_of(topology, mains, model), drawn(model, 5e7))
        assert found == (), complaint


@pytest.mark.parametrize("topology", TOPOLOGIES)
def test_the_shorts_that_open_a_fuse_are_those_of_its_circuit(topology: str) -> None:
    law = law_of(topology, 0, shipped(topology, 0, "part", None).model)
    for feared in law.feared.values():
        assert {law.known.places[part] for part in feared} == FEARED[topology]


@pytest.mark.parametrize("topology", TOPOLOGIES)
def test_every_part_that_a_repair_names_has_a_check_of_its_own(topology: str) -> None:
    model = shipped(topology, 0, "part", None).model
    law = law_of(topology, 0, model)
    repairs = [r.id for r in model.remedies if r.kind == "repair"]
    assert {remedy for remedy in repairs if not law.named(remedy)} == set()
    assert {part for r in repairs for part in law.named(r) if not law.checks(part)} == set()


def test_no_board_is_replaced_as_there_is_no_spare() -> None:
    for topology, mains, depth in UNITS:
        remedies = shipped(topology, mains, depth, None).model.remedies
        assert [r.id for r in remedies if r.id.startswith(("swap-", "take-"))] == []


# ---- the witness sees ----


def seen(judged: Model, made_for: Model) -> set[str]:
    """Kinds of breaches in plans made by chance, which know of no requirement."""
    law = law_of(judged.topology, 0, judged)
    charts = (by_chance(made_for, seed) for seed in range(30))
    return {breach.kind for chart in charts for breach in chart_breaches(law, chart)}


def test_the_witness_sees_parts_named_and_repairs_tried_unmeasured() -> None:
    model = shipped("light-controlled-lamp", 0, "part", None).model
    assert seen(model, model) >= {"named-unmeasured", "tried-unmeasured"}


def test_the_witness_sees_a_short_that_is_fed() -> None:
    """In plans for a model that marks no short, judged by the one that does."""
    model = shipped("buck-lamp", 0, "part", None).model
    assert "short-energised" in seen(model, dataclasses.replace(model, tests=unmarked(model)))


def unmarked(model: Model) -> tuple[Test, ...]:
    return tuple(
        dataclasses.replace(
            test, outcomes=tuple(dataclasses.replace(o, short=False) for o in test.outcomes)
        )
        for test in model.tests
    )


def test_an_open_fuse_that_was_measured_is_not_enough() -> None:
    law = law_of("buck-lamp", 0, shipped("buck-lamp", 0, "part", None).model)
    free = {"free BR1", "free RV1", "free C1", "free U1Q"}
    assert law.lacks("renew-R1", {"R1"}) == free
    assert law.lacks("keep-renew-R1", free) == {"R1"}
    assert law.lacks("renew-R1", free | {"R1"}) == set()
    assert law.lacks("renew-C1-and-R1", {"R1"}) == {"C1"}


def test_a_spare_board_is_seen() -> None:
    model = shipped("buck-lamp", 0, "part", None).model
    swap = Remedy("swap-driver", "Replace the driver board", "repair", 1.0, ())
    plain = dataclasses.replace(model, remedies=(*model.remedies, swap))
    node = {"kind": "verdict", "remedy": "swap-driver"}
    chart = {"root": "n1", "nodes": {"n1": node}}
    found = chart_breaches(law_of("buck-lamp", 0, plain), chart)
    assert [breach.kind for breach in found] == ["no-spare"]


# ---- walks ----


@pytest.mark.parametrize("topology", TOPOLOGIES)
def test_no_walk_ends_in_a_part_that_was_not_measured(topology: str) -> None:
    total = Tally()
    for seed in range(20):
        total.add(walked((topology, seed % 2, "part", None), seed))
    assert total.breaches == []


def test_walks_do_what_could_lead_astray() -> None:
    """A property of walks in which nothing happens proves nothing."""
    happened = Counter[str]()
    for seed in range(100, 120):
        happened += walked(("light-controlled-lamp", 0, "part", None), seed).counts
    for what in ("CannotDo", "Known", "Lacking", "undo", "Unmended", "verdicts"):
        assert happened[what], what
