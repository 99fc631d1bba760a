"""A made-up pair of documents of the size of a real stage chart: a light-controlled lamp.

Written by hand so that tests of the printed sheets need neither knowledge base nor planner: a tree
of tests with the state each wants; the set-ups between them, weights and reaches follow here.
"""

from __future__ import annotations

import hashlib
import json
from typing import Any

from tests.paper.lamp_facts import (
    CAUTIONS,
    FAULTS,
    OPENINGS,
    PROOFS,
    REMEDIES,
    RIGS,
    SUPPLIES,
    TESTS,
)

V = "verdict"
TREE: Any = (
    "other-socket",
    {
        "lights": (
            "uncover",
            {
                "off": (V, "other-socket", {"socket": 14}),
                "on": (V, "thyristor", {"thyristor-on": 2}),
            },
        ),
        "flickers": "SHARED-BULK",
        "dark": (
            "cover",
            {
                "comes-on": (V, "ambient", {"ambient-light": 9, "no-fault": 5}),
                "flashes": "SHARED-BULK",
                "dim": "SHARED-BULK",
                "dark": (
                    "base-ohms",
                    {
                        "short": (V, "fuse-bridge", {"bridge-short": 1, "driver-chip": 0.4}),
                        "open": (
                            "fuse-ohms",
                            {
                                "good": (
                                    "joints",
                                    {
                                        "loose": (V, "base-joint", {"base-wire": 5}),
                                        "firm": (V, "driver", {"driver-chip": 0.6, "other": 0.2}),
                                        "green": (V, "scrap", {"damp": 0.5}),
                                    },
                                ),
                                "high": (
                                    "bridge-diodes",
                                    {
                                        "good": (V, "fuse-bridge", {"fuse-open": 3}),
                                        "zero": (V, "fuse-bridge", {"bridge-short": 4}),
                                        "none": (V, "fuse-bridge", {"bridge-short": 1}),
                                    },
                                ),
                                "under": None,
                            },
                        ),
                        "mid": (
                            "bridged",
                            {
                                "lights": (
                                    "rail",
                                    {
                                        "dead": "SHARED-DROPPER",
                                        "low": "SHARED-DROPPER",
                                        "good": (
                                            "gate",
                                            {
                                                "dark": (V, "thyristor", {"thyristor-off": 5}),
                                                "fires": (
                                                    "sensor-volts",
                                                    {
                                                        "changes": (
                                                            V,
                                                            "comparator",
                                                            {"comparator": 3, "divider": 2},
                                                        ),
                                                        "stuck": (
                                                            V,
                                                            "photodiode",
                                                            {"photodiode": 4},
                                                        ),
                                                        "odd": None,
                                                    },
                                                ),
                                            },
                                        ),
                                        "high": None,
                                    },
                                ),
                                "blinks": "SHARED-BULK",
                                "dark": (
                                    "led-battery",
                                    {
                                        "all": (V, "driver", {"driver-chip": 5, "driver-coil": 2}),
                                        "one": (V, "led-board", {"led-open": 5}),
                                        "many": (V, "led-board", {"led-many": 2}),
                                    },
                                ),
                                "lamp-bright": (
                                    V,
                                    "driver",
                                    {"driver-chip": 0.5, "bulk-worn": 0.2},
                                ),
                            },
                        ),
                    },
                ),
            },
        ),
    },
)
SHARED_BULK = (
    "bulk",
    {
        "large": (V, "bulk-cap", {"bulk-worn": 5}),
        "none": None,
        "small": (V, "driver", {"driver-chip": 0.5, "base-wire": 2, "other": 0.8}),
    },
)
SHARED_DROPPER = (
    "dropper-ohms",
    {
        "above": (V, "control-feed", {"dropper": 8}),
        "good": (V, "zener", {"zener-leaky": 5, "rail-cap": 3, "comparator": 1}),
    },
)


def model(topology_says: str = "Light-controlled LED lamp") -> dict[str, Any]:
    """The model document of the sample."""
    total = sum(weight for _, _, weight in FAULTS.values())
    tests = [
        {
            "id": name,
            "says": says,
            "minutes": minutes,
            "opened": opened,
            "supply": supply,
            "rig": rig,
            "hands_on": hands_on,
            "cautions": cautions,
            "hazards": [],
            "because": [],
            "misread": {},
            "instrument": "digital multimeter",
            "point": "",
            "outcomes": [
                dict(zip(("id", "says", "low", "high", "unit"), (*o, *[None] * 5), strict=False))
                for o in outcomes
            ],
        }
        for name, (
            says,
            minutes,
            opened,
            supply,
            rig,
            hands_on,
            cautions,
            outcomes,
        ) in TESTS.items()
    ]
    return {
        "format": "nextprobe-model/1",
        "topology": "sample-lamp",
        "says": topology_says,
        "knowledge": "0f3a9c21d4",
        "mains": {"volts": 230, "hertz": 50},
        "depth": "stage",
        "complaint": "never lights",
        "wrong_verdict_minutes": 60,
        "faults": [
            {"id": f, "stage": stage, "says": says, "prior": weight / total, "parts": []}
            for f, (stage, says, weight) in FAULTS.items()
        ],
        "remedies": [
            dict(zip(("id", "says", "kind", "minutes", "cures", "proofs"), row, strict=True))
            for row in REMEDIES
        ],
        "proofs": [
            dict(zip(("id", "says", "supply", "limit", "source"), row, strict=True))
            for row in PROOFS
        ],
        "cautions": [
            dict(zip(("id", "hazard", "signal", "says"), row, strict=True)) for row in CAUTIONS
        ],
        "tests": tests,
        "likelihood": {},
        "openings": [
            dict(zip(("id", "minutes", "after", "says"), row, strict=True)) for row in OPENINGS
        ],
        "rigs": [
            dict(zip(("id", "minutes", "hands_on", "says"), row, strict=True)) for row in RIGS
        ],
        "supply": {
            "arrangements": [
                dict(
                    zip(
                        ("id", "energy", "max_volts", "hands_on", "closed_only", "says"),
                        row,
                        strict=True,
                    )
                )
                for row in SUPPLIES
            ],
            "minutes": {},
        },
        "stores": [
            {
                "part": "bulk-cap",
                "max_volts": 325,
                "point": "bulk capacitor",
                "below": 30,
                "exposed_by": ["base-cap"],
            }
        ],
        "start": {"opened": [], "supply": "dead", "rig": "none"},
        "entry": [
            {
                "id": "whole",
                "asks": "Is the lamp whole, dry, unburnt, with nothing loose inside?",
                "answers": {"yes": "go-on", "no": "scrap"},
                "why": "",
            },
            {
                "id": "trip",
                "asks": "Did it bang, smell burnt or trip the breaker?",
                "answers": {"no": "go-on", "yes": "cold-first"},
                "why": "",
            },
            {
                "id": "fixed",
                "asks": "Can it be unplugged?",
                "answers": {"yes": "go-on", "no": "refuse"},
                "why": "",
            },
        ],
        "stages": [
            {"id": "inlet", "says": "Base and inlet", "feeds": ["rectifier"], "points": ["TP1"]},
            {"id": "rectifier", "says": "Bridge", "feeds": ["switch", "control"], "points": []},
            {"id": "control", "says": "Light control", "feeds": ["switch"], "points": ["TP2"]},
            {"id": "switch", "says": "Thyristor", "feeds": ["driver"], "points": ["TP3"]},
            {"id": "driver", "says": "Driver", "feeds": ["leds"], "points": ["TP4"]},
            {"id": "leds", "says": "LED string", "feeds": [], "points": ["TP5"]},
        ],
    }


class _Maker:
    def __init__(self) -> None:
        self.nodes: dict[str, dict[str, Any]] = {}
        self.shared: dict[str, str] = {}

    def add(self, node: dict[str, Any]) -> str:
        name = f"n{len(self.nodes) + 1}"
        self.nodes[name] = node
        return name

    def grow(self, tree: Any, state: tuple[frozenset[str], str, str]) -> str:
        if tree is None:
            return self.add({"kind": "recheck", "says": "No fault in question shows this."})
        if tree == "SHARED-BULK":
            return self._shared("bulk", SHARED_BULK, state)
        if tree == "SHARED-DROPPER":
            return self._shared("dropper", SHARED_DROPPER, state)
        if tree[0] == V:
            weights = tree[2]
            total = sum(weights.values())
            every = sum(w for _, _, w in FAULTS.values())
            return self.add(
                {
                    "kind": "verdict",
                    "remedy": tree[1],
                    "reach": total / every,
                    "faults": [{"id": f, "p": w / total} for f, w in weights.items()],
                    "cautions": [],
                }
            )
        return self._test(tree, state)

    def _shared(self, name: str, tree: Any, state: tuple[frozenset[str], str, str]) -> str:
        # One drawing of the sub-plan, whichever way leads there.
        if name not in self.shared:
            self.shared[name] = self.grow(tree, state)
        return self.shared[name]

    def _test(self, tree: Any, state: tuple[frozenset[str], str, str]) -> str:
        name, branches = tree
        _, _, opened, supply, rig, _, cautions, _ = TESTS[name]
        steps: list[dict[str, Any]] = []
        now_open, now_supply, now_rig = state
        missing = [o for o in opened if o not in now_open]
        hands = bool(missing) or (rig != now_rig and (_by_hand(rig) or _by_hand(now_rig)))
        if (hands and now_supply != "dead") or (supply == "dead" and now_supply != "dead"):
            steps.append(
                {
                    "kind": "setup",
                    "open": missing,
                    "supply": "dead",
                    "rig": rig,
                    "minutes": 3,
                    "cautions": ["charged-store", "hot-parts"],
                    "make_safe": _due({*now_open, *missing}),
                }
            )
        elif hands:
            steps.append(
                {
                    "kind": "setup",
                    "open": missing,
                    "supply": "dead",
                    "rig": rig,
                    "minutes": 4,
                    "cautions": [],
                    "make_safe": [],
                }
            )
        current = "dead" if steps else now_supply
        if supply != current or (rig != now_rig and not steps):
            steps.append(
                {
                    "kind": "setup",
                    "open": [],
                    "supply": supply,
                    "rig": rig,
                    "minutes": 1.5,
                    "cautions": cautions[:1],
                    "make_safe": [],
                }
            )
        names = [self.add(step) for step in steps]
        after = (now_open | set(opened), supply, rig)
        test = self.add({"kind": "test", "test": name, "cautions": cautions, "branches": {}})
        for first, second in zip(names, [*names[1:], test], strict=False):
            self.nodes[first]["next"] = second
        self.nodes[test]["branches"] = {o: self.grow(t, after) for o, t in branches.items()}
        return names[0] if names else test


def told_before(root: str, nodes: dict[str, dict[str, Any]]) -> None:
    """Part every node's cautions into those to tell there and those standing since the present
    stand of the bench began, on every way."""
    energies = {row[0]: row[1] for row in SUPPLIES}
    known: dict[str, set[str]] = {root: set()}
    before: dict[str, tuple[str, bool]] = {root: ("none", False)}
    for name in _in_order(root, nodes):
        node, now = nodes[name], before[name]
        if node["kind"] == "setup":
            now = (energies[node["supply"]], now[1] or bool(node["open"]))
        told = known[name] if now == before[name] else set()
        wanted = list(node.get("cautions", ()))
        node["cautions"] = [c for c in wanted if c not in told]
        node["standing"] = [c for c in wanted if c in told]
        for child in [node["next"]] if "next" in node else node.get("branches", {}).values():
            after = told | set(wanted)
            known[child] = known[child] & after if child in known else after
            before[child] = now


def _in_order(root: str, nodes: dict[str, dict[str, Any]]) -> list[str]:
    """Every node behind all that lead to it."""
    order: list[str] = []

    def visit(name: str) -> None:
        if name in order:
            return
        node = nodes[name]
        for child in [node["next"]] if "next" in node else node.get("branches", {}).values():
            visit(child)
        order.append(name)

    visit(root)
    return order[::-1]


def _due(opened: set[str]) -> list[dict[str, Any]]:
    """The store to be measured, once the base cap is off."""
    bulk = {"part": "bulk-cap", "point": "bulk capacitor", "below": 30, "unit": "V"}
    return [bulk] if "base-cap" in opened else []


def _by_hand(rig: str) -> bool:
    return next(row[2] for row in RIGS if row[0] == rig)


SHORT_TREE: Any = (
    "other-socket",
    {
        "lights": (V, "other-socket", {"socket": 50}),
        "flickers": "SHARED-BULK",
        "dark": (
            "cover",
            {
                "comes-on": (V, "ambient", {"ambient-light": 30}),
                "flashes": "SHARED-BULK",
                "dim": (V, "scrap", {"damp": 10}),
                "dark": None,
            },
        ),
    },
)


def chart(tree: Any = TREE) -> dict[str, Any]:
    """The chart document of the sample, or of another tree over the same tests."""
    maker = _Maker()
    root = maker.grow(tree, (frozenset(), "dead", "none"))
    told_before(root, maker.nodes)
    digest = hashlib.sha256(json.dumps(model(), sort_keys=True).encode()).hexdigest()
    return {
        "format": "nextprobe-chart/1",
        "topology": "sample-lamp",
        "mains": {"volts": 230, "hertz": 50},
        "depth": "stage",
        "complaint": "never lights",
        "model_sha256": digest,
        "expected_minutes": 14.2,
        "expected_cost": 27.5,
        "lower_bound": 27.5,
        "proved_optimal": True,
        "nodes_expanded": 5120,
        "root": root,
        "nodes": maker.nodes,
    }
