"""A good pair of model and chart, and every way to spoil it, each with the breach to be seen.

`gate-lantern.model.json` and `.chart.json` are a good pair written and reckoned by hand:
minutes 0.5 + 1 + .8 (5 + 1 + 3) + .575 (2 + 3 + 2) = 12.725; remedies .2 x 5 + .225 x 18 + .3 x 15
+ .275 x 20 = 15.05; wrong verdicts 60 x (.025 + .025) = 3; cost 12.725 + 15.05 + 3 = 30.775.
Each case below spoils the pair in one place and names the breach that must be seen.
"""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from engine.audit import audit
from engine.model.records import document_sha256

HERE = Path(__file__).parent
Document = dict[str, Any]
Spoil = Callable[[Document, Document], None]


def good_pair() -> tuple[Document, Document]:
    model = json.loads((HERE / "gate-lantern.model.json").read_text())
    chart = json.loads((HERE / "gate-lantern.chart.json").read_text())
    # A store that stays below its limit: nobody need ask for it.
    model["stores"].append({"part": "C7", "max_volts": 12, "point": "TP4", "below": 30})
    chart["model_sha256"] = document_sha256(model)
    return model, chart


def codes(model: Document, chart: Document) -> set[str]:
    return {breach.code for breach in audit(model, chart)}


def node(chart: Document, name: str) -> Document:
    found: Document = chart["nodes"][name]
    return found


def by_id(records: list[Document], wanted: str) -> Document:
    return next(record for record in records if record["id"] == wanted)


def wrong_format(model: Document, chart: Document) -> None:
    chart["format"] = "nextprobe-chart/2"


def other_mains(model: Document, chart: Document) -> None:
    chart["mains"] = {"volts": 120, "hertz": 60}


def chart_of_another_model(model: Document, chart: Document) -> None:
    # A store that stays below its limit: nobody need ask for it.
    model["stores"].append({"part": "C7", "max_volts": 12, "point": "TP4", "below": 30})
    chart["model_sha256"] = "0" * 64


def no_lower_bound(model: Document, chart: Document) -> None:
    del chart["lower_bound"]


def unknown_kind(model: Document, chart: Document) -> None:
    node(chart, "n14")["kind"] = "shrug"


def setup_without_make_safe(model: Document, chart: Document) -> None:
    del node(chart, "n3")["make_safe"]


def lost_pointer(model: Document, chart: Document) -> None:
    node(chart, "n4")["next"] = "n99"


def lost_root(model: Document, chart: Document) -> None:
    chart["root"] = "n99"


def circle(model: Document, chart: Document) -> None:
    node(chart, "n8")["branches"]["dark"] = "n3"


def unreachable(model: Document, chart: Document) -> None:
    chart["nodes"]["n50"] = {"kind": "recheck", "says": "Nobody comes here"}


def unknown_remedy(model: Document, chart: Document) -> None:
    node(chart, "n12")["remedy"] = "prayer"


def unknown_caution(model: Document, chart: Document) -> None:
    node(chart, "n5")["cautions"].append("mind-the-step")


def branch_missing(model: Document, chart: Document) -> None:
    del node(chart, "n2")["branches"]["flickers"]
    del chart["nodes"]["n14"]


def same_test_again(model: Document, chart: Document) -> None:
    """Lit again after lit: the same test follows itself."""
    chart["nodes"]["n20"] = copy.deepcopy(node(chart, "n8"))
    chart["nodes"]["n20"]["branches"] = {"lit": "n12", "dark": "n14"}
    node(chart, "n8")["branches"]["lit"] = "n20"


def possible_outcome_to_recheck(model: Document, chart: Document) -> None:
    node(chart, "n2")["branches"]["works"] = "n14"
    del chart["nodes"]["n10"]


def impossible_outcome_to_verdict(model: Document, chart: Document) -> None:
    node(chart, "n2")["branches"]["flickers"] = "n10"
    del chart["nodes"]["n14"]


def setup_minutes(model: Document, chart: Document) -> None:
    node(chart, "n3")["minutes"] = 4


def rig_minutes_forgotten(model: Document, chart: Document) -> None:
    node(chart, "n6")["minutes"] = 0.5


def idle_setup(model: Document, chart: Document) -> None:
    chart["nodes"]["n30"] = {**copy.deepcopy(node(chart, "n4")), "minutes": 0, "next": "n5"}
    node(chart, "n4")["next"] = "n30"


def comparing_of_its_own(model: Document, chart: Document) -> None:
    next(one for one in chart["nodes"].values() if one["kind"] == "test")["compare"] = True


def opened_twice(model: Document, chart: Document) -> None:
    node(chart, "n6")["open"] = ["cap"]


def wrong_rig_at_test(model: Document, chart: Document) -> None:
    node(chart, "n6")["rig"] = "none"
    node(chart, "n7")["rig"] = "none"


def wrong_supply_at_test(model: Document, chart: Document) -> None:
    node(chart, "n3")["next"] = "n5"
    del chart["nodes"]["n4"]


def not_opened_at_test(model: Document, chart: Document) -> None:
    node(chart, "n3")["open"] = []


def verdict_hides_a_fault(model: Document, chart: Document) -> None:
    node(chart, "n11")["faults"].pop()


def wrong_odds(model: Document, chart: Document) -> None:
    node(chart, "n13")["faults"][0]["p"] = 0.93


def wrong_reach(model: Document, chart: Document) -> None:
    node(chart, "n13")["reach"] = 0.25


def wrong_minutes(model: Document, chart: Document) -> None:
    chart["expected_minutes"] = 12.8


def wrong_cost(model: Document, chart: Document) -> None:
    chart["expected_cost"] = 30.77


def bound_above_cost(model: Document, chart: Document) -> None:
    chart["lower_bound"] = 31.0


def proof_with_a_gap(model: Document, chart: Document) -> None:
    chart["proved_optimal"] = True


def dear_remedy(model: Document, chart: Document) -> None:
    node(chart, "n12")["remedy"] = "scrap"


def detour(model: Document, chart: Document) -> None:
    """From unplugged to battery, back, and to battery again."""
    chart["nodes"]["n31"] = {**copy.deepcopy(node(chart, "n6")), "rig": "none", "minutes": 0.5}
    chart["nodes"]["n31"]["next"] = "n32"
    chart["nodes"]["n32"] = {**copy.deepcopy(node(chart, "n4")), "next": "n5"}
    node(chart, "n4")["next"] = "n31"


def hands_on_limited_mains(model: Document, chart: Document) -> None:
    by_id(model["tests"], "bridge-switch")["hands_on"] = True


def touchable_mains(model: Document, chart: Document) -> None:
    by_id(model["supply"]["arrangements"], "limited")["hands_on"] = True


def string_over_sixty_volts_called_elv(model: Document, chart: Document) -> None:
    by_id(model["supply"]["arrangements"], "battery")["max_volts"] = 72


def opened_unit_on_normal_mains(model: Document, chart: Document) -> None:
    by_id(model["supply"]["arrangements"], "limited")["closed_only"] = True


def opened_on_mains_in_one_go(model: Document, chart: Document) -> None:
    """From normal mains straight to an opened unit on the limiter."""
    node(chart, "n2")["branches"]["dead"] = "n3"
    node(chart, "n3").update(supply="limited", minutes=1 + 4 + 3)


def battery_to_limiter_in_one_go(model: Document, chart: Document) -> None:
    node(chart, "n6").update(supply="limited", minutes=0.5 + 1.5 + 3)
    node(chart, "n6")["next"] = "n8"
    del chart["nodes"]["n7"]


def store_not_measured(model: Document, chart: Document) -> None:
    node(chart, "n3")["make_safe"] = []


def store_measured_too_high(model: Document, chart: Document) -> None:
    node(chart, "n3")["make_safe"][0]["below"] = 60


def second_store_forgotten(model: Document, chart: Document) -> None:
    model["stores"][1]["max_volts"] = 48


def hazard_without_caution(model: Document, chart: Document) -> None:
    by_id(model["tests"], "probe-leds")["cautions"] = []
    node(chart, "n5")["cautions"] = []


def caution_of_the_test_left_out(model: Document, chart: Document) -> None:
    by_id(model["tests"], "probe-leds")["cautions"].append("shock")


def caution_of_the_opening_left_out(model: Document, chart: Document) -> None:
    by_id(model["openings"], "cap")["cautions"] = ["shock"]


def caution_of_the_remedy_left_out(model: Document, chart: Document) -> None:
    by_id(model["remedies"], "new-leds")["cautions"] = ["eyes"]


def live_board_unsaid(model: Document, chart: Document) -> None:
    test = by_id(model["tests"], "bridge-switch")
    test["hazards"], test["cautions"] = [], []
    node(chart, "n8")["cautions"] = ["shock"]


def repair_without_proof(model: Document, chart: Document) -> None:
    by_id(model["remedies"], "new-leds")["proofs"] = []


def last_proof_not_closed(model: Document, chart: Document) -> None:
    by_id(model["remedies"], "new-leds")["proofs"] = ["soak", "insulation"]


def opened_proof_on_normal_mains(model: Document, chart: Document) -> None:
    proof = {**by_id(model["proofs"], "soak"), "id": "peek", "opened": ["cap"]}
    model["proofs"].append(proof)
    by_id(model["remedies"], "new-leds")["proofs"] = ["peek", "insulation", "soak"]


def hands_on_proof_on_mains(model: Document, chart: Document) -> None:
    by_id(model["proofs"], "soak")["hands_on"] = True


CONFIRM: Document = {
    "at": "n8",
    "outcome": "dark",
    "to": "n13",
    "back": "n5",
    "test": "probe-leds",
    "minutes": 2 + 1 + 3,
    "saves": 0.5,
    "root": "c1",
    "nodes": {
        "c1": {
            "kind": "setup",
            "open": [],
            "supply": "unplugged",
            "rig": "none",
            "minutes": 2,
            "cautions": [],
            "make_safe": [{"point": "C1 terminals", "below": 30, "unit": "V"}],
            "next": "c2",
        },
        "c2": {
            "kind": "setup",
            "open": [],
            "supply": "battery",
            "rig": "none",
            "minutes": 1,
            "cautions": [],
            "make_safe": [],
            "next": "c3",
        },
        "c3": {
            "kind": "test",
            "test": "probe-leds",
            "cautions": ["eyes"],
            "branches": {"all-lit": "n13", "one-dark": "c4"},
        },
        "c4": {"kind": "recheck", "says": "Do it a third time"},
    },
}


def confirmed(chart: Document) -> Document:
    """The chart with a confirm step before the driver is replaced; the step."""
    step = copy.deepcopy(CONFIRM)
    chart["confirm"] = [step]
    chart.update(expected_cost_with_misreads=32.0, expected_cost_with_confirm=31.5)
    return step


def confirm_on_another_line(model: Document, chart: Document) -> None:
    confirmed(chart)["outcome"] = "lit"


def confirm_of_a_test_not_done(model: Document, chart: Document) -> None:
    confirmed(chart)["test"] = "rail-volts"


def confirm_leads_nowhere(model: Document, chart: Document) -> None:
    del confirmed(chart)["nodes"]["c4"]


def confirm_minutes(model: Document, chart: Document) -> None:
    confirmed(chart)["minutes"] = 3


def confirm_dearer_than_none(model: Document, chart: Document) -> None:
    confirmed(chart)
    chart["expected_cost_with_confirm"] = 33.0


def confirm_without_making_safe(model: Document, chart: Document) -> None:
    confirmed(chart)["nodes"]["c1"]["make_safe"] = []


def confirm_not_by_way_of_dead(model: Document, chart: Document) -> None:
    step = confirmed(chart)
    step["root"] = "c2"
    del step["nodes"]["c1"]
    step["nodes"]["c2"]["minutes"] = 3


def opened_before_what_it_needs(model: Document, chart: Document) -> None:
    node(chart, "n6")["open"] = ["board"]
    node(chart, "n3")["open"] = []


def store_due_at_the_verdict_left_out(model: Document, chart: Document) -> None:
    node(chart, "n13")["make_safe"] = []


def store_behind_a_board_unsaid(model: Document, chart: Document) -> None:
    """The repair comes upon C1 at the board, which nobody had drawn out."""
    model["stores"][0]["exposed_by"] = ["board"]
    for name in ("n3", "n12", "n13"):
        node(chart, name)["make_safe"] = []


def limit_too_high(model: Document, chart: Document) -> None:
    model["stores"][0]["below"] = 60


def limit_that_is_no_number(model: Document, chart: Document) -> None:
    model["stores"][0]["below"] = float("nan")


def limit_that_is_true(model: Document, chart: Document) -> None:
    model["stores"][0]["below"] = True


def store_that_holds_less_than_nothing(model: Document, chart: Document) -> None:
    model["stores"][0]["max_volts"] = -1


def store_asked_for_in_a_closed_unit(model: Document, chart: Document) -> None:
    node(chart, "n1")["make_safe"] = node(chart, "n3")["make_safe"]


def store_asked_for_before_its_board(model: Document, chart: Document) -> None:
    model["stores"][0]["exposed_by"] = ["board"]


def second_opening_beside_an_unmeasured_store(model: Document, chart: Document) -> None:
    """The cap shows C1; the board is drawn out in the same breath."""
    node(chart, "n3")["open"] = ["cap", "board"]


def short_energised(model: Document, chart: Document) -> None:
    """All packages lit counts as a short, and the limiter follows."""
    outcomes = by_id(model["tests"], "probe-leds")["outcomes"]
    by_id(outcomes, "all-lit")["short"] = True


def caution_said_to_stand(model: Document, chart: Document) -> None:
    """It moved from told to standing, where nothing told of it before."""
    asked = node(chart, "n5")
    asked["standing"], asked["cautions"] = asked["cautions"], []


def required(model: Document, chart: Document, of: Document, test: str, outcome: str) -> None:
    """The model asks that a test reads so before something is named or tried."""
    of["requires"] = [{"of": "L1", "by": {test: [outcome]}, "says": "L1 measured", "strict": False}]
    chart["model_sha256"] = document_sha256(model)


def remedy_named_before_what_it_requires(model: Document, chart: Document) -> None:
    """It is shown on the way to another remedy only."""
    required(model, chart, by_id(model["remedies"], "new-switch"), "bridge-switch", "dark")


def repair_tried_before_what_it_requires(model: Document, chart: Document) -> None:
    """The way to it comes by the other answer."""
    required(model, chart, by_id(model["tests"], "bridge-switch"), "probe-leds", "one-dark")


def going_on(model: Document, chart: Document) -> Document:
    """What a verdict of the good pair says of going on, its sum and its parts right."""
    verdict = next(n for n in chart["nodes"].values() if n["kind"] == "verdict")
    for fault in model["faults"]:
        fault["parts"] = [{"part": fault["id"], "mode": "any"}]
    chart["model_sha256"] = document_sha256(model)
    parts = [[fault["id"], fault["p"]] for fault in verdict["faults"]]
    verdict["going_on"] = {
        "minutes": 12.0, "repair_minutes": 11.0, "saved": 1.0, "worth": 55.0, "advice": "go on",
        "parts": parts,
    }  # fmt: skip
    told: Document = verdict["going_on"]
    return told


def going_on_that_does_not_pay(model: Document, chart: Document) -> None:
    going_on(model, chart)["worth"] = 22.0


def going_on_without_its_minutes(model: Document, chart: Document) -> None:
    del going_on(model, chart)["minutes"]


def going_on_to_another_part(model: Document, chart: Document) -> None:
    going_on(model, chart)["parts"][0][0] = "C99"


def instead(chart: Document, **told: object) -> None:
    """What a test of the good pair says of the way on where it can't be done."""
    node(chart, "n8")["instead"] = {"minutes": 2.5, **told}


def instead_of_itself(model: Document, chart: Document) -> None:
    instead(chart, test="bridge-switch")


def instead_nothing_known(model: Document, chart: Document) -> None:
    instead(chart, remedy="prayer")


def instead_for_less_than_nothing(model: Document, chart: Document) -> None:
    instead(chart, test="rail-volts", minutes=-1.0)


CASES: list[tuple[Spoil, str]] = [
    (wrong_format, "AU101"),
    (other_mains, "AU101"),
    (chart_of_another_model, "AU101"),
    (no_lower_bound, "AU101"),
    (unknown_kind, "AU102"),
    (setup_without_make_safe, "AU102"),
    (lost_pointer, "AU103"),
    (lost_root, "AU103"),
    (circle, "AU104"),
    (unreachable, "AU105"),
    (unknown_remedy, "AU106"),
    (unknown_caution, "AU106"),
    (branch_missing, "AU107"),
    (same_test_again, "AU108"),
    (possible_outcome_to_recheck, "AU109"),
    (impossible_outcome_to_verdict, "AU109"),
    (setup_minutes, "AU201"),
    (rig_minutes_forgotten, "AU201"),
    (comparing_of_its_own, "AU213"),
    (idle_setup, "AU202"),
    (opened_twice, "AU202"),
    (wrong_rig_at_test, "AU203"),
    (wrong_supply_at_test, "AU203"),
    (not_opened_at_test, "AU203"),
    (verdict_hides_a_fault, "AU204"),
    (wrong_odds, "AU205"),
    (wrong_reach, "AU206"),
    (wrong_minutes, "AU207"),
    (wrong_cost, "AU208"),
    (bound_above_cost, "AU209"),
    (proof_with_a_gap, "AU209"),
    (dear_remedy, "AU210"),
    (detour, "AU211"),
    (going_on_that_does_not_pay, "AU212"),
    (going_on_without_its_minutes, "AU212"),
    (going_on_to_another_part, "AU212"),
    (instead_of_itself, "AU212"),
    (instead_nothing_known, "AU212"),
    (instead_for_less_than_nothing, "AU212"),
    (hands_on_limited_mains, "AU301"),
    (touchable_mains, "AU302"),
    (string_over_sixty_volts_called_elv, "AU302"),
    (opened_unit_on_normal_mains, "AU303"),
    (opened_on_mains_in_one_go, "AU304"),
    (battery_to_limiter_in_one_go, "AU304"),
    (store_not_measured, "AU305"),
    (store_measured_too_high, "AU305"),
    (second_store_forgotten, "AU305"),
    (store_due_at_the_verdict_left_out, "AU305"),
    (store_behind_a_board_unsaid, "AU305"),
    (second_opening_beside_an_unmeasured_store, "AU305"),
    (limit_too_high, "AU311"),
    (limit_that_is_no_number, "AU311"),
    (limit_that_is_true, "AU311"),
    (store_that_holds_less_than_nothing, "AU311"),
    (store_asked_for_in_a_closed_unit, "AU312"),
    (store_asked_for_before_its_board, "AU312"),
    (short_energised, "AU313"),
    (caution_said_to_stand, "AU314"),
    (remedy_named_before_what_it_requires, "AU315"),
    (repair_tried_before_what_it_requires, "AU316"),
    (hazard_without_caution, "AU306"),
    (caution_of_the_test_left_out, "AU306"),
    (caution_of_the_opening_left_out, "AU306"),
    (caution_of_the_remedy_left_out, "AU306"),
    (live_board_unsaid, "AU307"),
    (repair_without_proof, "AU308"),
    (last_proof_not_closed, "AU308"),
    (opened_proof_on_normal_mains, "AU309"),
    (hands_on_proof_on_mains, "AU309"),
    (opened_before_what_it_needs, "AU310"),
    (confirm_on_another_line, "AU501"),
    (confirm_of_a_test_not_done, "AU501"),
    (confirm_leads_nowhere, "AU501"),
    (confirm_minutes, "AU502"),
    (confirm_dearer_than_none, "AU502"),
    (confirm_without_making_safe, "AU305"),
    (confirm_not_by_way_of_dead, "AU304"),
]
