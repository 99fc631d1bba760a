"""Does the advice hold: does an addition, once written down, bring what was promised?"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from engine import library
from engine.deduce.composition import Bench
from engine.model.records import Mains
from engine.planner import plan
from engine.studies.testability.advice import Advice, advise
from engine.studies.testability.figures import coverage
from engine.studies.testability.proposals import Kind, Offer, propose
from kb.language import benchfile, loader
from tests.knowledge.shop import CORD_LAMP, folder
from tests.words.cli import Desk

MAINS = Mains(230.0, 50.0)
SECONDS = 30.0
# Asks for the series resistance of capacitors in one place only.
CHOOSY = """\
step: offer
rules:
  - id: shop-series-resistance
    says: The shop measures the series resistance of a controller's supply capacitor.
    when:
      - part: {name: $p, place: keeps, says: $w, behind: $o}
    then:
      - test:
          {name: "shop-esr-{p}", action: esr, says: "What has {w}?", how: unplugged,
           instrument: ESR meter, good: low, minutes: 0.5, supply: unplugged, rig: none, behind: $o,
           looks_at: esr, at: $p, on: $p, answers: [{outcome: low, says: low, for: [fine]},
           {outcome: much, says: much, for: [high]}]}
    source: the shop's own habit
"""


def proposed(kb: Path | None, topology: str, depth: str) -> Offer:
    """Everything that could be added to a unit."""
    model = library.model(topology, mains=MAINS, depth=depth, kb=kb)
    known = loader.read((kb,) if kb else ())
    return propose(known, Bench(230.0, 50.0, without=benchfile.unusual(known)), model)


# No test point, and the LEDs are reached sooner than the rest.
POINTLESS = (
    CORD_LAMP.partition("points:")[0]
    .replace("shell: {minutes: 3,", "lid: {minutes: 1, says: lift the lid, how: Pull.}\n"
             "  shell: {minutes: 12, after: [lid],")
    .replace("kind: led-string\n    behind: shell", "kind: led-string\n    behind: lid")
)  # fmt: skip


@pytest.fixture(scope="module")
def cord(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A lamp with no test point."""
    return folder(tmp_path_factory.mktemp("shop"), cord_lamp=POINTLESS)


@pytest.fixture(scope="module")
def found(cord: Path) -> Offer:
    """What could be added to it, the diagnosis ending at the stage."""
    return proposed(cord, "cord-lamp", "stage")


@pytest.fixture(scope="module")
def advice(found: Offer) -> Advice:
    """What it brings."""
    return advise(found, SECONDS)


def test_the_plan_compared_with_is_the_plan_of_the_unit_as_it_is(
    cord: Path, advice: Advice
) -> None:
    """Though it was made with all additions at hand."""
    model = library.model("cord-lamp", mains=MAINS, depth="stage", kb=cord)
    assert advice.now.proved_optimal
    assert advice.now.expected_cost == pytest.approx(plan(model).proof.expected_cost)


def test_a_test_point_brings_what_was_promised(
    found: Offer, advice: Advice, tmp_path: Path
) -> None:
    """Written into the topology, deduced and planned anew: the best one."""
    best = next(one for one in advice.saving if one.proposal.kind is Kind.POINT)
    text = f"{POINTLESS}points:\n  {best.proposal.write}\n"
    own = folder(tmp_path / "shop", cord_lamp=text)
    model = library.model("cord-lamp", mains=MAINS, depth="stage", kb=own)
    assert {test.id for test in model.tests} >= set(best.proposal.tests)
    saved = advice.now.expected_cost - plan(model).proof.expected_cost
    assert saved == pytest.approx(best.saves)
    assert saved == pytest.approx(best.sure)


def test_checks_of_parts_are_proposed_where_the_diagnosis_ends_at_the_stage(
    cord: Path, found: Offer
) -> None:
    """Those that the unit has at part depth; to mend a part and try is no check."""
    stage, deeper = (
        library.model("cord-lamp", mains=MAINS, depth=depth, kb=cord) for depth in ("stage", "part")
    )
    checks = {test.id for test in deeper.tests if not test.mends}
    parts = checks - {test.id for test in stage.tests}
    assert parts
    assert parts <= {test for p in found.proposals if p.kind is Kind.CHECK for test in p.tests}


def test_additions_leave_the_unit_as_it_is(found: Offer) -> None:
    """Its faults, tests and rows; only more comes to it."""
    extra = {test for p in found.proposals for test in p.tests}
    bare = coverage(found.model, extra)
    assert bare.tests + len(extra) == len(found.model.tests)
    assert bare.faults == coverage(found.model).faults


def test_a_check_goes_to_parts_of_the_same_sort_in_other_places(tmp_path: Path) -> None:
    """A rule for one capacitor's place is tried on the other electrolytics, and on nothing else.

    Not where the unit is energised: a rule's demands may be what makes a live test safe.
    """
    live = CHOOSY.replace("unplugged, rig", "bench-low, rig").replace("shop-", "live-")
    own = folder(tmp_path / "shop", rules=CHOOSY, more=live)
    checks = [p for p in proposed(own, "buck-lamp", "stage").proposals if p.rule]
    tried = {p.id for p in checks if p.rule == "shop-series-resistance"}
    assert "shop-esr-C1" in tried  # the reservoir
    assert tried <= {"shop-esr-C1", "shop-esr-C3"}  # the other electrolytics
    assert [p.id for p in checks if p.rule == "live-series-resistance"] == []


def test_a_known_good_board_cures_what_lies_on_it(found: Offer) -> None:
    """And nothing else."""
    rows = found.model.likelihood["known-good-driver"]
    cured = {fault for fault, row in rows.items() if row["helps"] == 1.0}
    on_board = {"J1", "R1", "BR1", "C1"}
    lying = {f.id for f in found.model.faults if f.parts and {p.part for p in f.parts} <= on_board}
    assert cured == lying
    assert "R1-open" in cured


def test_the_command_tells_all_of_it(desk: Desk, cord: Path) -> None:
    """In words and as JSON."""
    asked = ("coverage", "cord-lamp", "--kb", str(cord), "--depth", "stage", "--time", "3")
    told = desk.run(*asked)
    assert told.code == 0
    assert "isolated to 1 fault (FFI)" in told.out
    assert "to try it, add to points: TP" in told.out
    plain = json.loads(desk.run(*asked, "--json").out)
    assert plain["format"] == "nextprobe-coverage/1"
    assert (
        plain["advice"]["tried"] == len(plain["advice"]["saving"]) or plain["advice"]["tried"] > 5
    )


def test_a_document_made_elsewhere_has_figures_but_no_advice(desk: Desk) -> None:
    """No rules come with it."""
    lantern = Path(__file__).parents[1] / "safety" / "gate-lantern.model.json"
    plain = json.loads(desk.run("coverage", "--model", str(lantern), "--json").out)
    assert plain["advice"] is None
    assert 0.0 < plain["by_rate"]["at all"]["detected"] <= 1.0
