"""A unit of a design that nobody sampled: it is said, once, and plans lean on what needs none."""

from __future__ import annotations

import copy
import json
import math
import random
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from engine import library
from engine.audit import audit_walk
from engine.circuit import dictionary
from engine.circuit.dictionary import Cell, Dictionary
from engine.evidence import Joint, Take, witness
from engine.model.records import Mains, Outcome, Test, document
from engine.planner import plan
from engine.readings import bands
from engine.walk import job, record, undo
from engine.walk.events import Known
from engine.walk.job import Outset, Walk
from engine.walk.outlook import expected_model
from engine.walk.unlike import UNLIKE, needs_design, unlisted_odds
from kb.quantities import in_base, show
from render.terminal import docket
from tests.models import tiny_model
from tests.sampled_rail import FEED, RAIL, READINGS, ROWS, rail_model, rail_readings

SAMPLED = (("rail", "4.8 V"), ("feed", "465 kΩ"))
STRANGE = (("rail", "5.45 V"), ("feed", "200 kΩ"))


def read(walk: Walk, numbers: tuple[tuple[str, str], ...]) -> Walk:
    """The walk with these readings."""
    for name, text in numbers:
        test = walk.model.test(name)
        answer = bands.read(text, test, walk.model.arrangement(test.supply))
        shares = answer.shares if answer.straddles else ()
        walk = job.take(walk, Known(name, answer.outcome, text, shares))
    return walk


@pytest.fixture(scope="module")
def begun() -> Walk:
    """The rail before anything was read."""
    model = rail_model()
    return job.begin(Outset(model, witness=witness(model, rail_readings())), plan)


def test_a_unit_like_the_sampled_ones_is_not_called_unlike(begun: Walk) -> None:
    after = read(begun, SAMPLED)
    assert unlisted_odds(after) < 0.1
    assert not after.differs
    assert all(step.differs is None for step in after.steps)


def test_it_is_said_at_the_step_that_brings_it_out_and_once(begun: Walk) -> None:
    """Neither earlier nor at later steps, though the odds stay."""
    after = read(begun, STRANGE)
    assert [step.differs is not None for step in after.steps] == [False, True]
    assert after.steps[-1].differs == pytest.approx(unlisted_odds(after))
    assert unlisted_odds(after) > UNLIKE
    words = docket.unlike(read(begun, STRANGE[:1]), after)
    assert "differs from those I know here" in words
    assert docket.unlike(begun, read(begun, SAMPLED)) == ""
    assert docket.unlike(after, after) == ""


def test_it_is_taken_back_with_the_reading(begun: Walk) -> None:
    assert not undo.undo(read(begun, STRANGE)).differs


def test_no_circuit_no_such_word() -> None:
    """Rows alone know nothing of designs."""
    after = read(job.begin(Outset(rail_model()), plan), STRANGE)
    assert unlisted_odds(after) == 0.0
    assert not after.differs


def test_the_odds_are_those_of_all_designs_enumerated(begun: Walk) -> None:
    """By Bayes' rule over fault and design, each answer's odds multiplied."""
    after = read(begun, STRANGE)
    joint = Joint(witness(rail_model(), rail_readings()))
    odds = np.array([f.prior for f in after.model.faults])[:, None] * joint.prior[None, :]
    for name, takes in after.history.items():
        test = after.model.test(name)
        odds = odds * np.column_stack(
            [joint._cube(test, joint._answers(test, takes)).odds[:, n].sum(axis=1)
             for n in range(odds.shape[1])]
        )  # fmt: skip
    assert unlisted_odds(after) == pytest.approx(odds[:, -1].sum() / odds.sum(), rel=1e-9)


def test_units_of_the_family_are_seldom_called_unlike() -> None:
    """Of designs that were sampled and held back, broken and read at five places, at most one in
    twenty; those with each number moved by itself are found ten times as often."""
    mains = Mains(230.0, 50.0)
    model, made = library.model("buck-lamp", mains=mains), dictionary.read("buck-lamp", mains)
    assert made is not None
    tests = [t for t in model.tests if t.id.startswith("volts-") or t.id in ("ohms-R3", "ohms-C1")]
    chance, calls, moves = random.Random(1), list[bool](), list[bool]()
    for number in range(0, len(made.units), 8):
        joint = Joint(witness(model, without(made, number)))
        for fault in model.faults[::4]:
            cells = {t.id: made.cell(t.id, fault.id) for t in tests}
            numbers = {
                name: cell.samples[number][1]
                for name, cell in cells.items()
                if cell is not None and cell.samples[number][0] is None
            }
            found = {t: v for t, v in numbers.items() if v is not None and 0.0 < v < 1e7}
            calls.append(unlisted(joint, found) > UNLIKE)
            moved = {t: v * math.exp(chance.gauss(0.0, 0.5)) for t, v in found.items()}
            moves.append(unlisted(joint, moved) > UNLIKE)
    assert sum(calls) <= len(calls) / 20
    assert sum(moves) > 10 * sum(calls)
    assert sum(moves) > len(moves) / 10


def without(made: Dictionary, number: int) -> Dictionary:
    """The readings without one sampled unit."""

    def cut(cell: Cell) -> Cell:
        return replace(cell, samples=cell.samples[:number] + cell.samples[number + 1 :])

    units = made.units[:number] + made.units[number + 1 :]
    cells = {t: {f: cut(cell) for f, cell in row.items()} for t, row in made.cells.items()}
    return replace(made, units=units, cells=cells)


def unlisted(joint: Joint, numbers: dict[str, float]) -> float:
    """The odds of an unlisted design by numbers in base units, all faults by their priors."""
    model, history = joint.witness.model, dict[str, tuple[Take, ...]]()
    for name, value in numbers.items():
        test = model.test(name)
        unit = in_base(1.0, str(test.outcomes[0].unit)).unit
        high = bands.possible(unit, model.arrangement(test.supply))[1]
        text = show(min(value, high), unit, 3)
        answer = bands.read(text, test, model.arrangement(test.supply))
        history[name] = (Take(text, answer.shares),)
    logs = joint.support(history)
    odds = np.array([fault.prior for fault in model.faults]) * np.exp(logs - logs.max())
    return float(odds @ joint.designs(history)[:, -1] / odds.sum())


LIGHT = Test(
    "light", "Does it light with the switch bridged?", 2.0, (), "bench", "none", True,
    (Outcome("lit", "it lights"), Outcome("dark", "it stays dark")),
)  # fmt: skip


@pytest.fixture(scope="module")
def with_light() -> Walk:
    """The rail, its two numbers, and a light that parts a weak feed from heavy loads as well."""
    rows = {
        **ROWS,
        "light": {f: "lit" if f in ("no-fault", "feed-weak") else "dark" for f in ROWS["rail"]},
    }
    model = tiny_model(dict.fromkeys([*READINGS, "other"], 1.0), [RAIL, FEED, LIGHT], rows)
    return job.begin(Outset(model, witness=witness(model, rail_readings())), plan)


def test_only_numbers_need_a_design(with_light: Walk) -> None:
    """What is watched needs none, nor does a number that all designs show alike."""
    model, joint = with_light.model, with_light.joint
    assert [needs_design(joint, t, with_light.belief) for t in model.tests] == [True, True, False]
    made = rail_readings()
    alike = {f: replace(c, samples=((None, c.value),) * 4) for f, c in made.cells["feed"].items()}
    same = replace(made, cells={**made.cells, "feed": alike})
    assert not needs_design(Joint(witness(model, same)), FEED, with_light.belief)


def test_plans_for_an_unlike_unit_trust_its_numbers_less(with_light: Walk) -> None:
    """Rows of numbers flatten towards their mean; those of the light stay the rules'."""
    unlike = replace(read(with_light, STRANGE[:1]), differs=True)
    before, after = unlike.model.likelihood, expected_model(unlike).likelihood
    assert after["light"] is before["light"]
    rows = [np.array([r[f].get("above", 0.0) for f in unlike.belief])
            for r in (before["feed"], after["feed"])]  # fmt: skip
    assert 0.0 < np.ptp(rows[1]) < np.ptp(rows[0])
    assert all(sum(row.values()) == pytest.approx(1.0) for row in after["feed"].values())


def test_the_next_test_is_the_light_where_a_number_was(with_light: Walk) -> None:
    """The feed's ohms are the cheaper way to part what is left; on an unlike unit the light is."""
    belief = dict.fromkeys(with_light.belief, 0.0) | {"feed-weak": 0.5, "load-heavy": 0.5}
    pair = frozenset({"feed-weak", "load-heavy"})
    usual = replace(with_light, belief=belief, suspects=pair)
    firsts = []
    joint = Joint(witness(with_light.model, rail_readings()))
    for walk in (usual, replace(usual, differs=True, own_joint=joint)):
        made = plan(expected_model(walk), belief=belief, state=walk.bench)
        firsts.append(made.nodes[made.root].test)  # type: ignore[union-attr]
    assert firsts == ["feed", "light"]


@pytest.fixture(scope="module")
def audited(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], dict[str, Any]]:
    """The strange rail's walk and the readings it was weighed by."""
    folder: Path = tmp_path_factory.mktemp("readings")
    model = rail_model()
    file = dictionary.write(rail_readings(), folder)
    heard = witness(model, dictionary.read(model.topology, model.mains, folder))
    walk = read(job.begin(Outset(model, witness=heard), plan), STRANGE)
    plain = json.loads(json.dumps(record.document(walk)))
    return plain, json.loads(file.read_text(encoding="utf-8"))


def codes(walk: dict[str, Any], readings: dict[str, Any]) -> set[str]:
    """Breaches but that a walk under way has no verdict."""
    return {b.code for b in audit_walk(document(rail_model()), walk, readings)} - {"AU404"}


def test_the_audit_finds_the_same_odds(audited: Any) -> None:
    assert codes(*audited) == set()


def test_a_word_of_it_that_is_wrong_is_seen(audited: Any) -> None:
    """Left out, with other odds, or too early."""
    walk, readings = audited
    last = next(n for n, step in enumerate(walk["steps"]) if "differs" in step)
    for spoil in ("out", "other", "early"):
        changed = copy.deepcopy(walk)
        odds = changed["steps"][last].pop("differs")
        if spoil == "other":
            changed["steps"][last]["differs"] = odds * 1.01
        if spoil == "early":
            changed["steps"][last - 1]["differs"] = odds
        assert "AU409" in codes(changed, readings), spoil
