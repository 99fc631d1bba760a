"""Charts, ways through them and confirm steps on a job small enough to be reckoned by hand.

Two even faults, one look of a minute that is misread once in twenty either way, repairs of five
minutes, seventy-five for a wrong one.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from engine.chart import cautioning, confirm, ways
from engine.chart.confirm import confirmed_outlook, confirms
from engine.chart.drawing import Outset, draw_up
from engine.chart.drawing import document as chart_document
from engine.chart.outlook import Follower
from engine.model.plan import Ask, Plan, State, Verdict
from engine.model.records import Model, Opening, Remedy, Rig, Store
from engine.model.records import document as model_document
from engine.planner import plan
from engine.readings.confusion import Readings
from tests.models import simple_test, tiny_model

SIDES = ("left", "right")
REPAIRS = [Remedy(f"mend-{side}", f"Mend {side}", "repair", 5.0, (side,)) for side in SIDES]


def look_job(slip: float = 0.05, supply: str = "dead") -> Model:
    model = tiny_model(
        {"left": 1.0, "right": 1.0},
        [simple_test("look", 1.0, ("yes", "no"), supply=supply)],
        {"look": {"left": "yes", "right": "no"}},
        remedies=REPAIRS,
        wrong_verdict_minutes=75.0,
    )
    misread = {"yes": {"no": slip}, "no": {"yes": slip}}
    return replace(model, tests=(replace(model.tests[0], misread=misread),))


def outlook(model: Model, made: Plan) -> dict[str, float]:
    """Minutes, cost, odds of the right remedy and of none, over the priors."""
    follower = Follower.of(Readings.of(model), made)
    follower.follow()
    return {name: float(column @ [0.5, 0.5]) for name, column in follower.sheet.items()}


def test_what_a_plan_comes_to_where_readings_are_mistaken() -> None:
    """One minute and five; one in twenty is wrong, 3.75 minutes."""
    model = look_job()
    assert outlook(model, plan(model)) == pytest.approx(
        {"minutes": 1.0, "cost": 9.75, "right": 0.95, "undecided": 0.0}
    )


def test_a_set_up_is_paid_for_on_the_way() -> None:
    """Half a minute from the dead bench to the socket."""
    model = look_job(supply="socket")
    assert outlook(model, plan(model))["minutes"] == pytest.approx(1.5)


# For one line: half of all jobs look again (0.5); what differs, 0.0475, looks a third time; wrong
# are then 0.5 x (0.95 x 0.05 x 0.05 + 0.05 x 0.05 + 0.05 x 0.95 x 0.05) instead of 0.5 x 0.05.
SAVES = 75 * 0.025 - 0.5 - 0.0475 - 75 * 0.003625


def test_a_look_again_saves_what_it_saves_by_hand() -> None:
    model = look_job()
    made = plan(model)
    steps = confirms(model, made)
    assert [(s.test, s.minutes, s.first == s.outcome) for s in steps.confirms] == [
        ("look", 1.0, True), ("look", 1.0, True),
    ]  # fmt: skip
    assert [step.saves for step in steps.confirms] == pytest.approx([SAVES, SAVES])
    assert steps.expected_cost_with_misreads == pytest.approx(9.75)
    assert steps.expected_cost_with_confirm == pytest.approx(9.75 - 2 * SAVES)
    with_them = confirmed_outlook(model, made, steps.confirms)
    assert float(with_them.cost @ [0.5, 0.5]) == pytest.approx(9.75 - 2 * SAVES)


def test_a_look_again_that_does_not_pay_is_left_out() -> None:
    """Once in a thousand: 0.0375 minutes at stake on each line, for half a minute."""
    model = look_job(0.001)
    assert confirms(model, plan(model)).confirms == ()


def test_of_two_tests_done_before_the_one_that_saves_more_is_done_again() -> None:
    """Both part the same and are asked in turn; the second is never misread, the first is."""
    model = look_job()
    look = model.tests[0]
    sure = replace(look, id="weigh", misread={"yes": {"no": 0.01}, "no": {"yes": 0.01}})
    model = replace(
        model,
        tests=(look, sure),
        likelihood=dict.fromkeys(("look", "weigh"), model.likelihood["look"]),
    )
    here = State(frozenset(), "dead", "none")
    ends = {side: Verdict(f"mend-{side}", ((side, 0.5),)) for side in SIDES}
    asks = {
        "first": Ask("weigh", here, {"yes": "then", "no": "right"}),
        "then": Ask("look", here, {"yes": "left", "no": "right"}),
    }
    made = Plan("first", {**asks, **ends}, plan(model).proof)
    by_line = {(s.ask, s.outcome): s.test for s in confirms(model, made).confirms}
    assert by_line["then", "no"] == "look"


def three_way() -> Model:
    """Three even faults, each with an answer of its own that is told as either other one now and
    then, not equally often."""
    sides = ("left", "right", "top")
    model = tiny_model(
        dict.fromkeys(sides, 1.0),
        [simple_test("look", 1.0, sides)],
        {"look": {side: side for side in sides}},
        remedies=[Remedy(f"mend-{side}", f"Mend {side}", "repair", 5.0, (side,)) for side in sides],
        wrong_verdict_minutes=75.0,
    )
    misread = {"left": {"right": 0.1, "top": 0.05}, "right": {"top": 0.08}, "top": {"left": 0.06}}
    return replace(model, tests=(replace(model.tests[0], misread=misread),))


def reckoned(model: Model, again: set[str]) -> float:
    """The cost of looking once, and again on those lines: every way of three readings summed."""
    (look,) = model.tests
    total = 0.0
    for true in (outcome.id for outcome in look.outcomes):
        wrong = look.misread.get(true, {})
        odds = {**wrong, true: 1.0 - sum(wrong.values())}

        def end(told: str, true: str = true) -> float:
            return 5.0 + (0.0 if told == true else 75.0)

        for first, p in odds.items():
            cost = 1.0
            if first not in again:
                total += p * (cost + end(first))
                continue
            for second, q in odds.items():
                if second == first:
                    total += p * q * (cost + 1.0 + end(first))
                    continue
                for third, r in odds.items():
                    is_twice = third in (first, second)
                    total += p * q * r * (cost + 2.0 + (end(third) if is_twice else 75.0))
    return total / 3


@pytest.mark.parametrize("many", range(4))
def test_what_came_twice_counts_and_three_that_differ_are_given_up(many: int) -> None:
    model = three_way()
    made = plan(model)
    steps = confirms(model, made).confirms
    assert len(steps) == 3
    lines = {step.outcome for step in steps[:many]}
    cost = float(confirmed_outlook(model, made, steps[:many]).cost.mean())
    assert cost == pytest.approx(reckoned(model, lines))


def test_an_answer_that_no_fault_shows_is_read_once_more_and_then_given_up() -> None:
    """The left is told as odd once in ten: read again then; odd twice in a hundredth."""
    model = tiny_model(
        {"left": 1.0, "right": 1.0},
        [simple_test("look", 1.0, ("yes", "no", "odd"))],
        {"look": {"left": "yes", "right": "no"}},
        remedies=REPAIRS,
        wrong_verdict_minutes=75.0,
    )
    model = replace(model, tests=(replace(model.tests[0], misread={"yes": {"odd": 0.1}}),))
    assert outlook(model, plan(model)) == pytest.approx(
        {"minutes": 1.05, "right": 0.995, "undecided": 0.005,
         "cost": 1.05 + 5 * 0.995 + 75 * 0.005}
    )  # fmt: skip


def opened_job(low: float = 30.0) -> Model:
    """The look behind a cap that bares a store; and a way to power it there."""
    model = look_job()
    look = replace(model.tests[0], opened=("cap",))
    live = replace(look, id="run", supply="limited", hands_on=False)
    return replace(
        model,
        tests=(look, live),
        likelihood=dict.fromkeys(("look", "run"), model.likelihood["look"]),
        openings=(Opening("cap", 2.0),),
        stores=(Store("C1", 325.0, "across C1", low, ("cap",)),),
    )


@pytest.mark.parametrize(
    ("opened", "supply", "test", "charges"),
    [
        (("cap",), "dead", "run", True),
        (("cap",), "limited", "run", False),
        (("cap",), "dead", "look", False),
        ((), "dead", "run", False),
    ],
)
def test_a_store_that_was_measured_is_not_charged_anew_by_looking_again(
    opened: tuple[str, ...], supply: str, test: str, charges: bool
) -> None:
    """Power over a bared store on a dead bench does; on a live one it was charged all along."""
    state = State(frozenset(opened), supply, "none")
    assert confirm._charges_anew(opened_job(), state, test) is charges


# ---- drawn ----


@pytest.mark.parametrize(("low", "due"), [(frozenset({"C1"}), []), (frozenset(), ["C1"])])
def test_where_a_job_begins_at_its_verdict_the_stores_low_there_are_not_measured_again(
    low: frozenset[str], due: list[str]
) -> None:
    model = opened_job()
    here = State(frozenset({"cap"}), "dead", "none")
    made = Plan("end", {"end": Verdict("mend-left", (("left", 1.0),))}, plan(model).proof)
    chart = chart_document(draw_up(model, made, Outset(here, low)))
    (end,) = chart["nodes"].values()
    assert [store["part"] for store in end["make_safe"]] == due


def test_only_faults_that_can_come_to_a_verdict_are_told_there() -> None:
    model = look_job()
    here = State(frozenset(), "dead", "none")
    both = (("left", 0.5), ("right", 0.0))
    nodes = {
        "ask": Ask("look", here, {"yes": "end", "no": "other"}),
        "end": Verdict("mend-left", both),
        "other": Verdict("mend-right", (("right", 0.5),)),
    }
    chart = chart_document(draw_up(model, Plan("ask", nodes, plan(model).proof)))
    told = {n["remedy"]: [f["id"] for f in n["faults"]] for n in chart["nodes"].values()
            if n["kind"] == "verdict"}  # fmt: skip
    assert told == {"mend-left": ["left"], "mend-right": ["right"]}


# ---- cautions ----


def cautioned(*cautions: tuple[str, ...], kind: str = "repair") -> Model:
    """Remedies with these cautions."""
    return replace(
        look_job(),
        remedies=tuple(
            Remedy(f"r{n}", "", kind, 5.0, ("left",), cautions=own)
            for n, own in enumerate(cautions)
        ),
    )


@pytest.mark.parametrize(
    ("cautions", "group"),
    [
        ([("hot",), ("hot",)], ("hot",)),
        ([("hot",), ("hot",), (), ()], ("hot",)),
        ([("hot",), ("hot",), (), (), ()], ()),
        ([("hot",)], ()),
        ([("hot", "sharp"), ("sharp", "hot"), ("sharp",)], ("hot", "sharp")),
    ],
)
def test_what_half_of_the_repairs_share_is_told_once_for_all(
    cautions: list[tuple[str, ...]], group: tuple[str, ...]
) -> None:
    """Two at least, and half of them."""
    names = [f"r{n}" for n in range(len(cautions))]
    assert cautioning.group_cautions(cautioned(*cautions), names) == group
    assert cautioning.group_cautions(cautioned(*cautions, kind="outside"), names) == ()


def test_what_was_told_stands_where_the_bench_stays_as_it_is() -> None:
    """Told at the first, it stands at the second, not beyond another supply; a rig that comes off
    takes its own along; where one way has not told it, it is told again."""
    dead, live = ("dead", True), ("limited", True)
    places = {
        "a": cautioning.Place(dead, dead, ("hot", "lead"), ("b", "c", "e")),
        "b": cautioning.Place(dead, dead, ("hot", "lead"), ("e",), frozenset({"lead"})),
        "c": cautioning.Place(dead, live, ("hot",), ("d",)),
        "d": cautioning.Place(live, live, ("hot", "lead"), ()),
        "e": cautioning.Place(None, dead, ("hot", "lead", "new"), ()),
    }
    told = cautioning.cautions_of(places, "a", frozenset({"lead"}))
    assert told["a"] == cautioning.Cautions(("hot",), ("lead",))
    assert told["b"] == cautioning.Cautions(("lead",), ("hot",))
    assert told["c"] == cautioning.Cautions(("hot",), ())
    assert told["d"] == cautioning.Cautions(("lead",), ("hot",))
    assert told["e"] == cautioning.Cautions(("new",), ("hot", "lead"))


def test_cautions_of_a_rig_end_as_it_comes_off() -> None:
    """Its own, but for what the supply tells anyway."""
    fed = Rig("fed", 1.0, True, cautions=("lead", "hot"))
    model = replace(look_job(), rigs=(Rig("none", 0.0, False), fed))
    hot = tuple(replace(a, cautions=("hot",)) for a in model.supply.arrangements)
    model = replace(model, supply=replace(model.supply, arrangements=hot))
    bare, worn = (State(frozenset(), "limited", rig) for rig in ("none", "fed"))
    assert cautioning.ending(model, worn, bare) == {"lead"}
    assert cautioning.ending(model, worn, worn) == frozenset()


def test_nodes_are_numbered_from_one_as_they_are_met() -> None:
    """People say the numbers to each other: none is missing, and the root is the first."""
    model = look_job(supply="socket")
    chart = draw_up(model, plan(model))
    assert chart.root == "n1"
    assert list(chart.nodes) == ["n1", "n2", "n3", "n4"]


def test_a_verdict_that_several_lines_lead_to_tells_the_odds_of_all_of_them() -> None:
    """One end for either answer: even odds, and everyone comes there."""
    model = look_job()
    here = State(frozenset(), "dead", "none")
    nodes = {
        "ask": Ask("look", here, {"yes": "end", "no": "end"}),
        "end": Verdict("mend-left", (("left", 0.5), ("right", 0.5))),
    }
    chart = chart_document(draw_up(model, Plan("ask", nodes, plan(model).proof)))
    (end,) = (node for node in chart["nodes"].values() if node["kind"] == "verdict")
    assert end["reach"] == pytest.approx(1.0)
    assert {fault["id"]: fault["p"] for fault in end["faults"]} == pytest.approx(
        {"left": 0.5, "right": 0.5}
    )


def test_a_store_that_was_measured_on_the_way_is_not_asked_for_at_the_verdict() -> None:
    """In reach from outside, so measured before the first look on the unplugged unit."""
    model = replace(look_job(), stores=(Store("C1", 325.0, "across C1", 30.0, ()),))
    chart = chart_document(draw_up(model, plan(model)))
    kinds = {name: node["kind"] for name, node in chart["nodes"].items()}
    assert kinds[chart["root"]] == "setup"
    assert [p["part"] for p in chart["nodes"][chart["root"]]["make_safe"]] == ["C1"]
    ends = [node for node in chart["nodes"].values() if node["kind"] == "verdict"]
    assert len(ends) == 2
    assert not any(node["make_safe"] for node in ends)


# ---- ways ----


def test_odds_that_come_to_a_node_are_those_of_all_ways_to_it() -> None:
    """Three to one for the left, seen nine times in ten; a second test settles the rest."""
    model = tiny_model(
        {"left": 3.0, "right": 1.0},
        [simple_test("look", 1.0, ("yes", "no")), simple_test("weigh", 1.0, ("light", "heavy"))],
        {"look": {"left": {"yes": 0.9, "no": 0.1}, "right": "no"},
         "weigh": {"left": "light", "right": "heavy"}},
        remedies=REPAIRS,
    )  # fmt: skip
    chart = {
        "root": "n1",
        "nodes": {
            "n1": {"kind": "test", "test": "look", "branches": {"yes": "n4", "no": "n2"}},
            "n2": {"kind": "setup", "open": ["cap"], "supply": "bench", "rig": "fed", "next": "n3"},
            "n3": {"kind": "test", "test": "weigh", "branches": {"light": "n4", "heavy": "n5"}},
            "n4": {"kind": "verdict"},
            "n5": {"kind": "verdict"},
        },
    }
    plain = model_document(model)
    odds = ways.Odds.of(plain)
    came = ways.comings(odds, chart, ways.coming_in(plain, odds))
    weights = {name: coming.weights.tolist() for name, coming in came.items()}
    assert weights == {
        name: pytest.approx(row)
        for name, row in {
            "n1": [0.75, 0.25], "n2": [0.075, 0.25], "n3": [0.075, 0.25], "n4": [0.75, 0.0],
            "n5": [0.0, 0.25],
        }.items()
    }  # fmt: skip
    shut, opened = State(frozenset(), "dead", "none"), State(frozenset({"cap"}), "bench", "fed")
    assert came["n4"].states == {shut, opened}
    assert came["n5"].states == {opened}
    assert ways.benches(chart["nodes"], list(came), shut) == {n: c.states for n, c in came.items()}
    assert float(np.sum(came["n4"].weights + came["n5"].weights)) == pytest.approx(1.0)
