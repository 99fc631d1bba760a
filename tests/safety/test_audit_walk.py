"""Does the checker see every way a walk document can be wrong or unsafe?

The good walk is written by hand on `gate-lantern.model.json`, in both forms: with set-ups as steps
of their own, and with the stands of the tests alone. Minutes: mains 0.5, socket 1, unplug and open
1 + 4, battery 1, probe 3 = 10.5.
"""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from engine.audit import audit_walk

Document = dict[str, Any]
Spoil = Callable[[Document, Document], None]

MODEL = json.loads((Path(__file__).parent / "gate-lantern.model.json").read_text())

# After `dead`, told `one-dark`: .98 of the LEDs, .05 of the others by mistake, half and half of
# `other`: .5 x .98 + .5 x .05.
WEIGHTS = {
    "switch-open": 0.375 * 0.05,
    "driver-dead": 0.3125 * 0.05,
    "led-open": 0.25 * 0.98,
    "other": 0.0625 * 0.515,
}

SOCKET: Document = {
    "kind": "test",
    "test": "other-socket",
    "answer": "dead",
    "reading": None,
    "minutes": 1,
    "opened": [],
    "supply": "mains",
    "rig": "none",
    "belief": {"switch-open": 0.375, "driver-dead": 0.3125, "led-open": 0.25, "other": 0.0625},
}
PROBE: Document = {
    "kind": "test",
    "test": "probe-leds",
    "answer": "one-dark",
    "reading": None,
    "minutes": 3,
    "opened": ["cap"],
    "supply": "battery",
    "rig": "none",
    "belief": {name: weight / 0.3115625 for name, weight in WEIGHTS.items()},
}
TO_MAINS: Document = {
    "kind": "setup",
    "open": [],
    "make_safe": [],
    "minutes": 0.5,
    "opened": [],
    "supply": "mains",
    "rig": "none",
}
TO_DEAD: Document = {
    "kind": "setup",
    "open": ["cap"],
    "make_safe": [{"point": "C1 terminals", "below": 30, "unit": "V"}],
    "minutes": 5,
    "opened": ["cap"],
    "supply": "unplugged",
    "rig": "none",
}
TO_BATTERY: Document = {
    "kind": "setup",
    "open": [],
    "make_safe": [],
    "minutes": 1,
    "opened": ["cap"],
    "supply": "battery",
    "rig": "none",
}
SHORT: Document = {
    "format": "nextprobe-walk/1",
    "topology": "gate-lantern",
    "minutes": 10.5,
    "steps": [SOCKET, PROBE],
    "verdict": {
        "remedy": "new-leds",
        "confidence": 0.245 / 0.3115625,
        "faults": [{"id": name, "p": w / 0.3115625} for name, w in WEIGHTS.items()],
        "proofs": ["insulation", "soak"],
    },
}
FULL: Document = {**SHORT, "steps": [TO_MAINS, SOCKET, TO_DEAD, TO_BATTERY, PROBE]}


@pytest.mark.parametrize("walk", [SHORT, FULL], ids=["tests alone", "with set-ups"])
def test_good_walk_has_no_breach(walk: Document) -> None:
    assert audit_walk(MODEL, walk) == ()


def test_known_answer_costs_nothing_and_moves_nothing() -> None:
    known = {**PROBE, "kind": "known", "minutes": 0, "supply": "mains"}
    walk = {**SHORT, "minutes": 1.5, "steps": [SOCKET, known]}
    assert audit_walk(MODEL, walk) == ()


def test_reading_between_two_outcomes_is_weighed_by_its_shares() -> None:
    """Half `dead`, half `works`: all faults as likely as before."""
    belief = {fault["id"]: fault["prior"] for fault in MODEL["faults"]}
    unsure = {**SOCKET, "shares": {"dead": 0.5, "works": 0.5}, "belief": belief}
    walk = {**SHORT, "minutes": 1.5, "steps": [unsure]}
    assert audit_walk(MODEL, walk) == ()


def test_unit_turned_away_has_no_steps_to_check() -> None:
    verdict = {"remedy": None, "kind": "refuse", "confidence": 1.0, "faults": [], "proofs": []}
    walk = {**SHORT, "minutes": 0, "steps": [], "verdict": verdict}
    assert audit_walk(MODEL, walk) == ()


def wrong_topology(model: Document, walk: Document) -> None:
    walk["topology"] = "porch-lamp"


def walk_on_another_model(model: Document, walk: Document) -> None:
    walk["model_sha256"] = "0" * 64


def unknown_test(model: Document, walk: Document) -> None:
    walk["steps"][1]["test"] = "listen"


def unknown_answer(model: Document, walk: Document) -> None:
    walk["steps"][1]["answer"] = "purple"


def unknown_supply(model: Document, walk: Document) -> None:
    walk["steps"][1]["supply"] = "wind"


def total_too_low(model: Document, walk: Document) -> None:
    walk["minutes"] = 9.0


def minutes_of_a_test_wrong(model: Document, walk: Document) -> None:
    walk["steps"][4]["minutes"] = 2


def setup_minutes_wrong(model: Document, walk: Document) -> None:
    walk["steps"][2]["minutes"] = 4


def opening_undone(model: Document, walk: Document) -> None:
    walk["steps"][3]["opened"] = []


def done_on_another_supply(model: Document, walk: Document) -> None:
    walk["steps"][4]["supply"] = "unplugged"


def opened_on_normal_mains(model: Document, walk: Document) -> None:
    walk["steps"][1]["opened"] = ["cap"]


def hands_on_mains(model: Document, walk: Document) -> None:
    model["tests"][0]["hands_on"] = True


def straight_to_battery(model: Document, walk: Document) -> None:
    del walk["steps"][2]
    walk["steps"][2]["minutes"] = 6


def store_not_measured(model: Document, walk: Document) -> None:
    walk["steps"][2]["make_safe"] = []


def no_store_measured_instead(model: Document, walk: Document) -> None:
    """The law is about stores: a low reading at anything else says nothing of one."""
    due = {store["point"] for store in walk["steps"][2]["make_safe"]}
    parts = [store["part"] for store in model["stores"] if store["point"] in due]
    walk["steps"][2]["measured"] = [{"part": p, "volts": 0.2} for p in (*parts, "lantern")]


def board_before_cap(model: Document, walk: Document) -> None:
    for step in walk["steps"][2:]:
        step["opened"] = ["board"]


def no_verdict(model: Document, walk: Document) -> None:
    walk["verdict"] = None


def confidence_too_high(model: Document, walk: Document) -> None:
    walk["verdict"]["confidence"] = 0.99


def proofs_left_out(model: Document, walk: Document) -> None:
    walk["verdict"]["proofs"] = []


def belief_without_misreads(model: Document, walk: Document) -> None:
    walk["steps"][4]["belief"] = {"led-open": 8 / 9, "other": 1 / 9}


def belief_of_an_unknown_fault(model: Document, walk: Document) -> None:
    walk["steps"][4]["belief"]["gremlin"] = 0.1


def verdict_on_unknown_fault(model: Document, walk: Document) -> None:
    walk["verdict"]["faults"] = [{"id": "gremlin", "p": 1.0}]


CASES: list[tuple[Spoil, str]] = [
    (wrong_topology, "AU401"),
    (walk_on_another_model, "AU101"),
    (unknown_test, "AU401"),
    (unknown_answer, "AU401"),
    (unknown_supply, "AU401"),
    (total_too_low, "AU402"),
    (minutes_of_a_test_wrong, "AU402"),
    (setup_minutes_wrong, "AU402"),
    (opening_undone, "AU403"),
    (done_on_another_supply, "AU203"),
    (opened_on_normal_mains, "AU303"),
    (hands_on_mains, "AU301"),
    (straight_to_battery, "AU304"),
    (store_not_measured, "AU305"),
    (no_store_measured_instead, "AU305"),
    (board_before_cap, "AU310"),
    (no_verdict, "AU404"),
    (confidence_too_high, "AU404"),
    (proofs_left_out, "AU404"),
    (belief_without_misreads, "AU405"),
    (belief_of_an_unknown_fault, "AU401"),
    (verdict_on_unknown_fault, "AU404"),
]


@pytest.mark.parametrize(("spoil", "code"), CASES, ids=[spoil.__name__ for spoil, _ in CASES])
def test_breach_is_seen(spoil: Spoil, code: str) -> None:
    model, walk = copy.deepcopy(MODEL), copy.deepcopy(FULL)
    spoil(model, walk)
    assert code in {breach.code for breach in audit_walk(model, walk)}
