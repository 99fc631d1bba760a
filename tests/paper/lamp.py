"""A made-up pair of documents of the size of a real stage chart: a light-controlled lamp.

Written by hand so that tests of the printed sheets need neither knowledge base nor planner: a tree
of tests with the state each wants; the set-ups between them, weights and reaches follow here.
"""

from __future__ import annotations

import hashlib
import json
from typing import Any

SUPPLIES = [
    # id, energy, max volts, hands_on, closed_only, says
    ("dead", "none", 0, True, False, "Unplugged, discharged, verified"),
    ("closed-mains", "mains", 325, False, True, "Normal mains, lamp closed"),
    ("limited", "mains", 325, False, False, "Isolating transformer, 40 W series lamp"),
    ("bench-elv", "elv", 24, False, False, "Floating 9 V battery with its resistor"),
]
OPENINGS = [
    ("base-cap", 4, [], "Base cap off"),
    ("diffuser", 3, [], "Diffuser off"),
    ("driver-out", 5, ["base-cap"], "Driver board lifted out"),
]
RIGS = [
    ("none", 0, False, "Nothing clipped on"),
    ("sensor-covered", 0.5, False, "Sensor covered with black tape"),
    ("thyristor-bridged", 1.5, True, "Clip lead from the thyristor's anode to its cathode"),
    ("gate-fed", 2, True, "Floating battery through 1 kΩ to the thyristor's gate"),
]
CAUTIONS = [
    (
        "live-led-board",
        "electric shock",
        "WARNING",
        "The LED board and every heat sink carry full mains while the opened lamp is fed. The "
        "series lamp limits damage, not shock: one hand, insulated probes, nobody else near.",
    ),
    (
        "charged-store",
        "stored charge",
        "WARNING",
        "The bulk capacitor can hold 325 V for minutes after unplugging. Measure before you touch, "
        "and again before you solder: wet capacitors creep back.",
    ),
    (
        "hot-parts",
        "hot surface",
        "CAUTION",
        "Series lamp, LED board and fusible resistor burn the skin. Let them cool below 48 °C.",
    ),
    (
        "bright-light",
        "bright light",
        "CAUTION",
        "Don’t stare into bare LEDs at arm’s length. Turn the board away or cover it with paper.",
    ),
    (
        "second-source",
        "second source",
        "WARNING",
        "Clip the battery on while the lamp is dead and treat it as live from then on.",
    ),
    ("polarity", "polarity", "NOTICE", "A reversed capacitor vents. Check the stripe twice."),
]
PROOFS = [
    (
        "insulation",
        "Insulation tester 500 V d.c., cap to body, 1 min",
        "dead",
        "at least 4 MΩ",
        "IEC 62560, clause from memory",
    ),
    (
        "soak",
        "Closed up, full mains, 30 min",
        "closed-mains",
        "steady light, no smell",
        "common practice",
    ),
    (
        "dusk",
        "Cover and uncover the sensor three times",
        "closed-mains",
        "on and off each time, within the delay",
        "common practice",
    ),
]
REMEDIES = [
    (
        "other-socket",
        "Mend or change the socket; the lamp is good",
        "outside",
        3,
        ["socket"],
        ["soak"],
    ),
    (
        "ambient",
        "No fault: the sensor sees a street lamp. Turn it away",
        "none",
        2,
        ["ambient-light", "no-fault"],
        ["dusk"],
    ),
    (
        "base-joint",
        "Resolder the base wire and clean the centre contact",
        "repair",
        8,
        ["base-wire"],
        ["insulation", "soak"],
    ),
    (
        "fuse-bridge",
        "Change the bridge, then the fusible resistor (same flame-proof type)",
        "repair",
        18,
        ["bridge-short", "fuse-open"],
        ["insulation", "soak"],
    ),
    (
        "thyristor",
        "Change the thyristor",
        "repair",
        12,
        ["thyristor-off", "thyristor-on"],
        ["insulation", "dusk"],
    ),
    (
        "control-feed",
        "Change the dropper resistor of the control rail",
        "repair",
        12,
        ["dropper"],
        ["insulation", "dusk"],
    ),
    (
        "zener",
        "Change the control rail’s zener and its capacitor",
        "repair",
        14,
        ["zener-leaky", "rail-cap"],
        ["insulation", "dusk"],
    ),
    (
        "comparator",
        "Change the light-control board",
        "repair",
        20,
        ["comparator", "divider"],
        ["insulation", "dusk"],
    ),
    ("photodiode", "Change the photodiode", "repair", 10, ["photodiode"], ["dusk"]),
    (
        "driver",
        "Change the driver board",
        "repair",
        20,
        ["driver-chip", "driver-coil"],
        ["insulation", "soak"],
    ),
    (
        "bulk-cap",
        "Change the bulk capacitor: 105 °C, same volts",
        "repair",
        15,
        ["bulk-worn"],
        ["insulation", "soak"],
    ),
    (
        "led-board",
        "Change the LED board",
        "repair",
        25,
        ["led-open", "led-many"],
        ["insulation", "soak"],
    ),
    ("scrap", "Scrap: the damp has eaten the board", "scrap", 2, ["damp", "other"], []),
]
FAULTS = {
    "socket": ("outside", "bent socket contact", 14),
    "ambient-light": ("outside", "sensor sees light at night", 9),
    "no-fault": ("outside", "no fault found", 5),
    "base-wire": ("inlet", "base wire or centre contact open", 7),
    "fuse-open": ("inlet", "fusible resistor open by itself", 3),
    "bridge-short": ("inlet", "bridge shorted, fusible resistor open", 6),
    "thyristor-off": ("switch", "thyristor never turns on", 5),
    "thyristor-on": ("switch", "thyristor shorted", 2),
    "dropper": ("light control", "dropper resistor open or drifted", 8),
    "zener-leaky": ("light control", "zener leaky", 5),
    "rail-cap": ("light control", "rail capacitor leaky", 3),
    "comparator": ("light control", "comparator dead", 4),
    "divider": ("light control", "threshold divider drifted", 2),
    "photodiode": ("light control", "photodiode leaky", 4),
    "driver-chip": ("driver", "driver chip dead", 6),
    "driver-coil": ("driver", "driver coil open", 2),
    "bulk-worn": ("driver", "bulk capacitor dried out", 6),
    "led-open": ("LED string", "one LED package open", 5),
    "led-many": ("LED string", "several packages failed", 2),
    "damp": ("all", "damp inside", 1),
    "other": ("all", "something not listed", 1),
}

# test id: says, minutes, openings, supply, rig, hands_on, cautions, outcomes
TESTS: dict[str, tuple[Any, ...]] = {
    "other-socket": (
        "Try the lamp in a socket known to be good, with the sensor as it is: does it light?",
        1,
        [],
        "closed-mains",
        "none",
        False,
        [],
        [("lights", "lights"), ("dark", "stays dark"), ("flickers", "flickers")],
    ),
    "cover": (
        "Cover the sensor with black tape and wait two minutes: does it come on?",
        2.5,
        [],
        "closed-mains",
        "sensor-covered",
        False,
        [],
        [
            ("comes-on", "comes on"),
            ("dark", "stays dark"),
            ("flashes", "flashes slowly"),
            ("dim", "dim"),
        ],
    ),
    "uncover": (
        "Uncover the sensor in a lit room: does it go off again?",
        2,
        [],
        "closed-mains",
        "none",
        False,
        [],
        [("off", "goes off"), ("on", "stays on")],
    ),
    "base-ohms": (
        "Ohms across the base contacts, both ways round",
        1,
        [],
        "dead",
        "none",
        True,
        [],
        [
            ("short", "near zero", None, 10, "Ω"),
            ("mid", "a charge, then MΩ", 10, 2e7, "Ω"),
            ("open", "over range", 2e7, None, "Ω"),
        ],
    ),
    "joints": (
        "Tug the base wires and look at their joints with a glass",
        2,
        ["base-cap"],
        "dead",
        "none",
        True,
        [],
        [("loose", "loose or cracked"), ("firm", "all firm"), ("green", "green or wet")],
    ),
    "fuse-ohms": (
        "Ohms of the fusible resistor on the board",
        1.5,
        ["base-cap"],
        "dead",
        "none",
        True,
        [],
        [
            ("good", "8 Ω to 12 Ω", 8, 12, "Ω"),
            ("high", "above", 12, None, "Ω"),
            ("under", "below", None, 8, "Ω"),
        ],
    ),
    "bridge-diodes": (
        "Diode range over each arm of the bridge: four readings, both ways",
        3,
        ["base-cap"],
        "dead",
        "none",
        True,
        [],
        [
            ("good", "all one way", 0.4, 0.8, "V"),
            ("zero", "an arm at zero", None, 0.4, "V"),
            ("none", "an arm over range", 0.8, None, "V"),
        ],
    ),
    "bridged": (
        "With the thyristor bridged, bring the variable transformer up slowly: does the "
        "lamp light?",
        3,
        ["base-cap"],
        "limited",
        "thyristor-bridged",
        False,
        ["live-led-board", "bright-light"],
        [
            ("lights", "lights"),
            ("dark", "stays dark"),
            ("blinks", "blinks"),
            ("lamp-bright", "series lamp stays bright"),
        ],
    ),
    "gate": (
        "With the gate fed, power through the limiter: does the thyristor fire?",
        3,
        ["base-cap"],
        "limited",
        "gate-fed",
        False,
        ["live-led-board", "second-source"],
        [("fires", "lights"), ("dark", "stays dark")],
    ),
    "rail": (
        "Volts on the control rail, across the zener at TP2",
        2.5,
        ["base-cap"],
        "limited",
        "none",
        False,
        ["live-led-board"],
        [
            ("dead", "no rail", None, 1.0, "V"),
            ("low", "low", 1.0, 4.6, "V"),
            ("good", "healthy", 4.6, 5.6, "V"),
            ("high", "high", 5.6, None, "V"),
        ],
    ),
    "dropper-ohms": (
        "Ohms across the dropper resistor, marked 470 kΩ",
        1.5,
        ["base-cap"],
        "dead",
        "none",
        True,
        [],
        [
            ("good", "to its mark", None, 517000, "Ω"),
            ("above", "above its mark", 517000, None, "Ω"),
        ],
    ),
    "sensor-volts": (
        "Volts across the photodiode, lit, then covered: does it change?",
        2,
        ["base-cap"],
        "limited",
        "none",
        False,
        ["live-led-board"],
        [("changes", "changes by more than 1 V"), ("stuck", "stuck"), ("odd", "wanders")],
    ),
    "led-battery": (
        "Light each LED package from 9 V through 330 Ω: scrape the pads, mind the polarity",
        6,
        ["diffuser"],
        "dead",
        "none",
        True,
        ["bright-light"],
        [("all", "all light"), ("one", "one dark"), ("many", "several dark")],
    ),
    "bulk": (
        "Ripple on the bulk capacitor at limited mains",
        2.5,
        ["base-cap", "driver-out"],
        "limited",
        "thyristor-bridged",
        False,
        ["live-led-board", "charged-store"],
        [
            ("none", "no voltage", None, 5, "V"),
            ("large", "large", 60, None, "V"),
            ("small", "small", 5, 60, "V"),
        ],
    ),
}

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
        "stores": [{"part": "bulk-cap", "max_volts": 325, "point": "bulk capacitor", "below": 30}],
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
                    "make_safe": [{"point": "bulk capacitor", "below": 30, "unit": "V"}],
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
