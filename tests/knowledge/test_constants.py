"""Numbers that stand in the code: each says what it is, and what follows from it holds just there.

Figures of standards carry their source here as they do in the code; the rest is common practice or
a choice of ours, and a change of it is to be seen. Each figure below was worked out by hand.
"""

from __future__ import annotations

import ast
import math
import re
from dataclasses import replace
from functools import cache
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from engine import library
from engine.assembly.requisites import Requisites
from engine.audit.bench import Bench
from engine.audit.safety import supply_breaches, touch_breaches
from engine.calc.rating import resistor_watts
from engine.circuit import accord
from engine.deduce.composition import Bench as Supplied
from engine.deduce.deduction import Reasoner
from engine.deduce.facts import fact
from engine.evidence import density, make, scale
from engine.evidence.witness import Testimony
from engine.model import makesafe, records
from engine.model.plan import State
from engine.model.records import Arrangement, Fault, FaultyPart, Mains, Outcome, Store, document
from engine.planner import plan
from engine.readings import belief
from engine.walk import explain, hearing, job
from engine.walk.doubts import in_question
from engine.walk.events import Answered
from engine.walk.job import Outset
from engine.walk.mending import after_failure
from kb.language import loader
from kb.quantities import OHM, VOLT
from render.terminal import words
from tests.knowledge.shop import CORD_LAMP, folder
from tests.models import simple_test, tiny_model
from tests.walk.test_walk_ends import lantern

ROOT = Path(__file__).parents[2]
MAINS = Mains(230, 50)
TOUCHABLE_DC = 30.0
"""IEC 60598-1 cl. 8.2.3: bare live parts, the stricter of its two limits; the other is 60 V DC."""


# ---- every number says what it is ----


def is_numeric(node):
    """Whether an expression is a number, a sum of numbers, or a row or table of them."""
    match node:
        case ast.Constant(value=bool()):
            return False
        case ast.Constant(value=value):
            return isinstance(value, (int, float))
        case ast.UnaryOp(operand=inner):
            return is_numeric(inner)
        case ast.BinOp(left=left, right=right):
            return is_numeric(left) and is_numeric(right)
        case ast.Tuple(elts=[_, *_] as members):
            return all(map(is_numeric, members))
        case ast.Dict(values=[_, *_] as members):
            return any(map(is_numeric, members))
    return False


def unexplained(text):
    """Lines of a module's numbers with neither a comment before or beside nor words after them.

    Numbers on lines that follow each other are explained together.
    """
    lines, body, bare = ["", *text.splitlines()], ast.parse(text).body, []
    group, ended = [], 0
    for node in [*body, None]:
        if isinstance(node, (ast.Assign, ast.AnnAssign)) and ended in (0, node.lineno - 1):
            group.append(node)
            ended = node.end_lineno
            continue
        after = isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
        if group and not after and not lines[group[0].lineno - 1].startswith("#"):
            bare += [lines[n.lineno] for n in group if is_numeric(n.value) and not beside(n, lines)]
        group = [node] if isinstance(node, (ast.Assign, ast.AnnAssign)) else []
        ended = group[0].end_lineno if group else 0
    return bare


def beside(node, lines):
    """Whether a comment stands on one of a statement's lines."""
    return any(re.search(r"#(?! fmt)", line) for line in lines[node.lineno : node.end_lineno + 1])


def test_every_number_of_the_engine_says_what_it_is():
    """Where it is from, or that it is the algorithm's own."""
    modules = sorted((ROOT / "engine").rglob("*.py"))
    bare = {str(p.relative_to(ROOT)): unexplained(p.read_text(encoding="utf-8")) for p in modules}
    assert {path: lines for path, lines in bare.items() if lines} == {}


@pytest.mark.parametrize("text", ["A = 1.0\n", "A, B = 1, -2\n", "\nA = {'x': 2.0}\n"])
def test_a_number_without_words_is_found(text):
    """One, two at once, a table."""
    assert len(unexplained(text)) == 1
    assert unexplained("# Why.\n" + text.lstrip()) == []
    assert unexplained(text + '"""Why."""\n') == []


# ---- figures of standards ----


def test_whatever_says_below_which_volts_a_store_is_touched_says_the_standards():
    """30 V DC: in every caution, step, sum and supply of the shipped knowledge."""
    texts = [path.read_text(encoding="utf-8") for path in (ROOT / "kb").rglob("*.yaml")]
    said = re.findall(r"(?:below\s+|limit=)([0-9.]+)\s+V\b", "\n".join(texts))
    assert len(said) >= 12
    assert {float(volts) for volts in said} == {TOUCHABLE_DC}
    assert loader.as_shipped().numbers["touch-volts"].value == TOUCHABLE_DC


def spoilt_bench(**changes):
    """The lantern's bench as the audit has it, its extra-low supply changed."""
    plain = document(lantern())
    plain["stores"] = [{"part": "C1", "point": "C1", "below": 30.0, "max_volts": 358.0}]
    supply = {
        "id": "string", "energy": "elv", "max_volts": 12.0, "hands_on": True, "closed_only": False,
    }  # fmt: skip
    plain["supply"]["arrangements"].append(supply | changes)
    return Bench.of(plain)


@pytest.mark.parametrize(
    ("changes", "breached"),
    [
        ({}, False),
        ({"max_volts": 60.0}, False),
        ({"max_volts": 60.5}, True),
        ({"energy": "hvdc", "max_volts": 200.0}, True),
        ({"energy": "hvdc", "max_volts": 200.0, "hands_on": False}, False),
        ({"energy": "mains", "max_volts": 325.0}, True),
    ],
)
def test_the_audit_lets_hands_touch_what_is_low_alone(changes, breached):
    """To 60 V DC in ordinary conditions (IEC 60598-1 cl. 8.2.3); never mains, never hvdc."""
    codes = [breach.code for breach in supply_breaches(spoilt_bench(**changes))]
    assert codes == (["AU302"] if breached else [])


@pytest.mark.parametrize(
    ("energy", "breached"), [("none", False), ("elv", False), ("hvdc", True), ("mains", True)]
)
def test_the_audit_bars_hands_from_mains_and_hvdc_whatever_the_document_says(energy, breached):
    """A document that calls such a supply touchable is not believed at the step either."""
    bench = spoilt_bench(energy=energy)
    step = {"id": "probe", "hands_on": True}
    assert bool([*touch_breaches(bench, "n1", step, "string")]) == breached
    assert not [*touch_breaches(bench, "n1", step | {"hands_on": False}, "string")]


@pytest.mark.parametrize(("below", "breached"), [(30.0, False), (30.5, True), (0.0, True)])
def test_the_audit_bounds_what_may_be_left_on_a_store(below, breached):
    """30 V DC."""
    bench = spoilt_bench()
    bench.document["stores"][0]["below"] = below
    assert bool([*supply_breaches(bench)]) == breached


@pytest.mark.parametrize(
    ("energy", "low"), [("elv", True), ("hvdc", False), ("mains", False)]
)
def test_a_store_that_was_measured_is_due_again_where_it_may_have_filled(energy, low):
    """After mains and hvdc; on a bench source of extra-low voltage what is known stands."""
    model = lantern()
    string = Arrangement("string", energy, 60.0, hands_on=False, closed_only=False)
    supply = replace(model.supply, arrangements=(*model.supply.arrangements, string))
    model = replace(model, supply=supply, stores=(Store("C1", 358.0, "C1", 30.0, exposed_by=()),))
    before, after = State((), "string", "none"), State((), model.dead_supply, "none")
    due = makesafe.stores_due(model, makesafe.known_at(model, before), after)
    assert [store.part for store in due] == ([] if low else ["C1"])


# ---- what a short takes along ----

TWO_FUSES = CORD_LAMP.replace(
    "      R1: {kind: fusible-resistor, place: line, value: 47 ohm}\n",
    "      R1: {kind: fusible-resistor, place: line, value: 47 ohm}\n"
    "      R2: {kind: fusible-resistor, place: line, value: 10 ohm}\n",
)


def shares_behind(tmp_path, text):
    """For each short: its own share, and all that stand for it and a part it took along."""
    knowledge = loader.read((folder(tmp_path / "shop", **{"lamp.yaml": text}),))
    kept = Reasoner(knowledge).deduce("cord-lamp", Supplied(230, 50)).hypotheses
    lone = {h.id: h.share for h in kept if h.brought is None}
    taken = {}
    for pair in kept:
        if pair.brought is not None:
            cause = pair.id.partition("-took-")[0]
            taken[cause] = taken.get(cause, 0.0) + pair.share
    return {cause: (lone[cause], share) for cause, share in taken.items()}


def test_a_short_may_always_stand_alone(tmp_path):
    """One fuse opens in 85 of 100 shorts; two would in 170, and get 95, so that 5 are left."""
    one = shares_behind(tmp_path, CORD_LAMP)
    two = shares_behind(tmp_path, TWO_FUSES)
    assert one
    assert {round(taken / (alone + taken), 6) for alone, taken in one.values()} == {0.85}
    assert {round(taken / (alone + taken), 6) for alone, taken in two.values()} == {0.95}


# ---- which answers free a part of a short ----


def requisites(fields, rows):
    """The requirements of a unit with one ohm test of R1 and the faults of `rows`."""
    facts = [fact("test", name="ohms", action="ohms"), *fields]
    deduction = SimpleNamespace(
        of=lambda kind: tuple(f for f in facts if f.kind == kind),
        knowledge=SimpleNamespace(arrangements={"unplugged": SimpleNamespace(energy="none")}),
    )
    answers = (Outcome("low", "low", short=True), Outcome("fine", "fine"), Outcome("odd", "odd"))
    test = records.Test("ohms", "Ohms?", 1.0, (), "unplugged", "none", True, answers)
    faults = [Fault(name, "entry", name, 0.5, parts) for name, parts in PARTS.items()]
    return Requisites(deduction, [test], faults, {"ohms": rows})


FUSE, CAPACITOR = FaultyPart("R1", "open"), FaultyPart("C1", "short")
PARTS = {"blown": (FUSE,), "shorted": (CAPACITOR, FUSE)}


@pytest.mark.parametrize(("odds", "frees"), [(0.04, True), (0.05, True), (0.06, False)])
def test_an_answer_frees_of_a_short_that_hardly_ever_gives_it(odds, frees):
    """Once in twenty at most. Common practice, no source for the figure."""
    feared = [fact("pair", first="C1", second="R1"), fact("shorts-first", of="renew", part="C1")]
    rows = {
        "blown": {"fine": 1.0},
        "shorted": {"fine": odds, "low": 1.0 - odds},
    }
    (clear,) = requisites(feared, rows).of("renew")
    assert dict(clear.by) == ({"ohms": ("fine",)} if frees else {})


@pytest.mark.parametrize(("odds", "frees"), [(0.51, True), (0.5, True), (0.49, False)])
def test_an_answer_frees_of_a_short_where_the_open_fuse_alone_mostly_gives_it(odds, frees):
    """In half of the cases at least: else it is no sign of a fuse that opened by itself."""
    feared = [fact("pair", first="C1", second="R1"), fact("shorts-first", of="renew", part="C1")]
    rows = {
        "blown": {"fine": odds, "low": 1.0 - odds},
        "shorted": {"low": 1.0},
    }
    (clear,) = requisites(feared, rows).of("renew")
    assert dict(clear.by) == ({"ohms": ("fine",)} if frees else {})


# ---- misreads ----


@cache
def fully_equipped():
    """The buck lamp's model on a bench that has every instrument."""
    return library.model("buck-lamp", mains=MAINS, having=library.everything())


def test_a_worn_capacitor_reads_fine_once_in_twenty():
    """So a fine series resistance leaves it a twentieth of its odds, beside faults that it can not
    see and that read fine in 98 of 100."""
    model = fully_equipped()
    prior = {fault.id: fault.prior for fault in model.faults}
    tried = 0
    for test in (t for t in model.tests if t.id.startswith("esr-")):
        rows = {fault.id: model.row(test.id, fault.id) for fault in model.faults}
        after = belief.update(model, prior, test.id, (("fine", 1.0),))
        worn = [f for f, row in rows.items() if row["high"] == 1.0]
        sound = next(f for f, row in rows.items() if row["fine"] == 1.0)
        for fault in worn:
            ratio = (after[fault] / prior[fault]) / (after[sound] / prior[sound])
            assert ratio == pytest.approx(0.05 / 0.98)
            tried += 1
    assert tried


# ---- what stays in question on a walk ----


def test_faults_that_hold_a_fivehundredth_together_are_out_of_question():
    """Two in a thousand: 0.15 minutes, where a wrong verdict costs 75."""
    assert in_question({"a": 0.998, "b": 0.0015, "c": 0.0005}) == {"a"}
    assert in_question({"a": 0.9978, "b": 0.0016, "c": 0.0006}) == {"a", "b"}


def walk_heard(factors, slips):
    """A walk at even odds whose circuit weighs the next reading so; its rows part nothing."""
    circuit = SimpleNamespace(testimony=lambda *_: Testimony(factors, slips))
    return SimpleNamespace(
        belief=dict.fromkeys(factors, 1.0 / len(factors)),
        suspects=frozenset(factors),
        outset=SimpleNamespace(witness=circuit),
        model=SimpleNamespace(row=lambda *_: {"low": 0.5, "high": 0.5}),
    )


LOW = Answered("probe", "low")


def heard(factors, slips):
    """What is left in question once the circuit has weighed a reading."""
    return hearing.hear(walk_heard(factors, slips), LOW).suspects


@pytest.mark.parametrize(("factor", "goes_on"), [(0.90, True), (0.88, False)])
def test_a_plan_goes_on_where_a_reading_moves_the_odds_by_three_hundredths(factor, goes_on):
    """Planned for even odds; 1/1.90 is 0.026 from a half, 1/1.88 is 0.032."""
    walk = walk_heard({"a": 1.0, "b": factor}, dict.fromkeys("ab", 0.0))
    assert hearing.as_planned(walk, LOW) == goes_on


def test_a_reading_leaves_in_question_what_holds_half_a_thousandth():
    """Of all odds read right."""
    assert heard({"a": 1.0, "b": 6e-4, "c": 4e-4}, dict.fromkeys("abc", 0.0)) == {"a", "b"}


def test_a_reading_that_a_misreading_explains_best_is_a_surprise():
    """Less than a twentieth of all odds read right."""
    assert heard({"a": 1.0, "b": 1.0}, {"a": 0.94, "b": 0.94}) == {"a", "b"}
    assert heard({"a": 1.0, "b": 1.0}, {"a": 0.96, "b": 0.96}) == frozenset()


def test_a_repair_that_did_not_help_was_made_badly_three_times_in_a_hundred():
    """The odds of what it cures beside the rest fall to 0.03 of what they were."""
    walk = job.begin(Outset(lantern()), plan)
    remedy = next(r for r in walk.model.remedies if 0 < len(r.cures) < len(walk.belief))
    after = after_failure(walk, remedy).belief
    cured, other = remedy.cures[0], next(f for f in walk.belief if f not in remedy.cures)
    before = walk.belief[cured] / walk.belief[other]
    assert after[cured] / after[other] == pytest.approx(0.03 * before)


def answered(odds):
    """Two faults at even odds, the first of which is bad with these odds, the other surely."""
    rows = {"t": {"a": {"bad": odds, "good": 1.0 - odds}, "b": "bad"}}
    model = tiny_model({"a": 0.5, "b": 0.5}, [simple_test("t")], rows)
    walk = job.begin(Outset(model), plan)
    return walk, job.take(walk, Answered("t", "bad"))


@pytest.mark.parametrize(("odds", "cleared"), [(1 / 19.1, True), (1 / 18.9, False)])
def test_an_answer_clears_what_it_leaves_one_in_twenty(odds, cleared):
    """1 to 19: the level below which a repairer stops thinking of a suspect; our choice."""
    before, after = answered(odds)
    (ground,) = explain.how(after).grounds
    assert [weight.suspect for weight in ground.cleared] == (["a"] if cleared else [])
    bad = next(p for p in explain.why(before).prospects if p.outcome == "bad")
    assert [suspect.fault for suspect in bad.drops] == (["a"] if cleared else [])


@pytest.mark.parametrize(("odds", "pointed"), [(0.49, True), (0.51, False)])
def test_an_answer_points_at_what_it_makes_twice_as_likely(odds, pointed):
    """Against all the rest; our choice."""
    (ground,) = explain.how(answered(odds)[1]).grounds
    assert [weight.suspect for weight in ground.pointed] == (["b"] if pointed else [])


# ---- densities of readings ----

VOLTS = scale.Scale(VOLT, 0.2, 0.0, 1000.0, ranges=False)
OHMS = scale.Scale(OHM, 0.3, 0.0, 6e7, ranges=True)


def test_what_nobody_foresaw_keeps_a_fiftieth():
    """Far from every sample, of a blind guess; over range too, where no sample goes."""
    assert density.around(VOLTS, [5.0], [1.0]).share(900.0) == pytest.approx(0.02, rel=0.05)
    assert density.around(OHMS, [100.0], [1.0]).share(math.inf) == pytest.approx(0.02)


def test_a_blind_guess_is_over_range_once_in_five():
    """Where the instrument can show it."""
    assert density.background(OHMS).mass(6e7, math.inf) == pytest.approx(0.2)
    assert density.background(VOLTS).mass(1000.0, math.inf) == pytest.approx(0.0)


def test_a_sample_is_no_narrower_than_three_per_cent():
    """With the meter's own 0.7 % in volts on top, as a root of squares: 3.08 %."""
    (width,) = density.around(VOLTS, [300.0], [1.0]).widths
    assert width == pytest.approx(math.hypot(0.03, 0.007), rel=1e-3)


@pytest.mark.parametrize(("on", "share"), [(VOLTS, 0.007), (OHMS, 0.010)])
def test_a_meter_reads_to_its_accuracy_and_two_digits(on, share):
    """0.5 % in volts, 0.8 % in ohms (IDEAL, PeakTech and Elenco manuals), and 0.2 % of digits."""
    assert on.widths(np.array([500.0]))[0] == pytest.approx(share, rel=3e-3)


@pytest.mark.parametrize(
    ("ohms", "odds"), [(9e6, 0.0), (1e7, 0.0), (6e14**0.5, 0.5), (5.9e7, 0.991), (7e7, 1.0)]
)
def test_meters_go_over_range_from_ten_to_sixty_megohms(ohms, odds):
    """Half of them at the middle by ratio, 24.5 megohms."""
    assert density.around(OHMS, [ohms], [1.0]).over == pytest.approx(odds, abs=1e-3)


def test_a_cut_is_passed_within_some_five_per_cent():
    """On the cut a half; 5 % over it 1/(1 + exp(-2.5)) = 0.924, far past the bend."""
    assert VOLTS.inside(100.0, 100.0, math.inf) == pytest.approx(0.5)
    assert VOLTS.inside(105.0, 100.0, math.inf) == pytest.approx(0.924, abs=0.005)
    assert VOLTS.inside(95.0, 100.0, math.inf) == pytest.approx(0.071, abs=0.005)


def test_siblings_count_by_how_near_they_read_to_a_good_unit():
    """One reading alike, one off by a twentieth (exp(-1/2) = 0.6065), one off by ten times, which
    keeps a thousandth: units differ in what no sibling drew."""
    cell = SimpleNamespace(samples=[(None, 100.0), (None, 100.0 * math.exp(0.05)), (None, 1000.0)])
    readings = SimpleNamespace(
        cell=lambda *_: cell, units=[SimpleNamespace(weight=1.0 / 3) for _ in cell.samples]
    )
    alike, near, far = make.like(make.NothingKnown, readings, "no-fault", {"rail": 100.0}).weights
    assert near / alike == pytest.approx((0.001 + 0.60653) / 1.001, rel=1e-4)
    assert far / alike == pytest.approx(0.001 / 1.001)


@pytest.mark.parametrize(("odds", "agree"), [(0.29, True), (0.28, False)])
def test_rules_say_an_answer_too_that_has_two_fifths_of_the_likeliest_ones_odds(odds, agree):
    """0.29 of 0.71 is 0.408, 0.28 of 0.72 is 0.389: rules and circuit agree in the first alone."""
    rows = {"t": {"a": {"bad": odds, "good": 1.0 - odds}}}
    model = tiny_model({"a": 1.0}, [simple_test("t")], rows)
    model = replace(model, topology="buck-lamp")
    cell = SimpleNamespace(outcome="bad", value=None)
    compared = accord.compare(model, SimpleNamespace(cells={"t": {"a": cell}}))
    assert compared.cells == 1
    assert (compared.disagreements == ()) == agree


@pytest.mark.parametrize(("odds", "told"), [(0.011, True), (0.009, False)])
def test_a_verdict_names_what_else_it_could_be_from_one_in_a_hundred(odds, told):
    """The document keeps all."""
    same = {"t": {"a": "bad", "b": "bad"}}
    model = tiny_model({"a": 1.0 - odds, "b": odds}, [simple_test("t")], same)
    remedy = next(r for r in model.remedies if r.cures == ("a",))
    ending = SimpleNamespace(faults=(("a", 1.0 - odds), ("b", odds)), remedy=remedy)
    assert bool([*words.others(model, ending)]) == told


# ---- what shops sell ----


@pytest.mark.parametrize(
    ("heat", "rating"), [(0.12, 0.25), (0.125, 0.25), (0.13, 0.5), (2.4, 5.0), (51.0, 102.0)]
)
def test_a_resistor_is_rated_for_twice_its_heat(heat, rating):
    """Common practice; above 100 W it is chosen from a data sheet."""
    assert resistor_watts(heat) == rating
