"""Does the witness see each thing it is there to see? It is no use where it is blind.

A small unit with a store behind each of two boards and one that is reached from outside, a chart
and a walk of it that keep the law; each case spoils one thing and names what must be seen.
"""

from __future__ import annotations

import copy
from collections.abc import Callable
from types import SimpleNamespace as Record
from typing import Any

import pytest

from tests.safety.witness_chart import breaches
from tests.safety.witness_walk import Witness

Plain = dict[str, Any]


def _arrangement(name: str, energy: str, *cautions: str, closed: bool = False) -> Plain:
    return {"id": name, "energy": energy, "closed_only": closed, "cautions": list(cautions)}


def _test(name: str, supply: str, opened: list[str], hands: bool, **rest: Any) -> Plain:
    outcomes = [{"id": "good"}, {"id": "bad"}]
    plain = {"id": name, "supply": supply, "opened": opened, "hands_on": hands, "rig": "none"}
    return plain | {"hazards": [], "cautions": [], "outcomes": outcomes} | rest


def unit() -> Plain:
    """The model document, in so far as the witness reads it."""
    cold = _test("ohms", "dead", ["cap", "board"], True)
    cold["outcomes"][1]["short"] = True
    return {
        "supply": {
            "arrangements": [
                _arrangement("dead", "none", "charge"),
                _arrangement("bench", "elv"),
                _arrangement("limited", "mains", "shock"),
                _arrangement("socket", "mains", closed=True),
            ]
        },
        "openings": [
            {"id": "cap", "after": [], "cautions": ["blade"]},
            {"id": "board", "after": ["cap"], "cautions": []},
            {"id": "look", "after": [], "cautions": [], "inside": False},
        ],
        "rigs": [
            {"id": "none", "hands_on": False, "cautions": []},
            {"id": "clip", "hands_on": True, "cautions": ["iron"]},
        ],
        "stores": [
            _store("C0", 100, []),
            _store("C1", 325, ["cap"]),
            _store("C2", 325, ["board"]),
            _store("C9", 12, ["cap"]),
        ],
        "cautions": [{"id": c, "hazard": c} for c in ("charge", "shock", "blade", "iron", "hot")],
        "tests": [
            cold,
            _test("volts", "limited", ["cap", "board"], False, rig="clip", hazards=["hot"],
                  cautions=["hot"]),
            _test("lamp", "socket", [], False),
        ],
        "remedies": [{"id": "mend", "kind": "repair", "cautions": ["iron"]},
                     {"id": "leave", "kind": "none", "cautions": []}],
        "start": {"opened": [], "supply": "dead", "rig": "none"},
    }  # fmt: skip


def _store(part: str, volts: float, by: list[str]) -> Plain:
    return {"part": part, "max_volts": volts, "point": f"{part} ends", "below": 30,
            "exposed_by": by}  # fmt: skip


def _ask(*parts: str) -> list[Plain]:
    return [{"part": p, "point": f"{p} ends", "below": 30, "unit": "V"} for p in parts]


def _set_up(to: str, opened: str, supply: str, rig: str, asked: list[Plain], *told: str) -> Plain:
    return {"kind": "setup", "open": [opened] if opened else [], "supply": supply, "rig": rig,
            "make_safe": asked, "cautions": list(told), "next": to}  # fmt: skip


def chart() -> Plain:
    """A chart of the unit that keeps the law: in use, opened board by board, on limited mains."""
    later = [s | {"opening": o} for s, o in zip(_ask("C1", "C2"), ("cap", "board"), strict=True)]
    return {
        "root": "a",
        "grouped": {"verdict": ["iron"]},
        "nodes": {
            "a": _set_up("b", "", "dead", "none", _ask("C0"), "charge"),
            "b": _set_up("c", "", "socket", "none", []),
            "c": {"kind": "test", "test": "lamp", "cautions": [],
                  "branches": {"good": "z", "bad": "d"}},
            "d": _set_up("e", "", "dead", "none", _ask("C0"), "charge"),
            "e": _set_up("f", "cap", "dead", "none", _ask("C1"), "blade", "charge"),
            "f": _set_up("g", "board", "dead", "none", _ask("C2")),
            "g": {"kind": "test", "test": "ohms", "cautions": [], "standing": ["charge"],
                  "branches": {"good": "h", "bad": "y"}},
            "h": _set_up("i", "", "dead", "clip", [], "iron"),
            "i": _set_up("j", "", "limited", "clip", [], "shock"),
            "j": {"kind": "test", "test": "volts", "cautions": ["hot"],
                  "branches": {"good": "x", "bad": "w"}},
            "w": {"kind": "verdict", "remedy": "mend", "cautions": [],
                  "make_safe": _ask("C0", "C1", "C2")},
            "x": {"kind": "recheck", "says": "misread"},
            "y": {"kind": "verdict", "remedy": "mend", "cautions": []},
            "z": {"kind": "verdict", "remedy": "mend", "cautions": ["iron"],
                  "make_safe": _ask("C0"), "opening_up": later},
        },
    }  # fmt: skip


Spoil = Callable[[Plain, Plain], None]


def test_a_chart_that_keeps_the_law_is_let_be() -> None:
    assert breaches(unit(), chart()) == ()


CHARTS: list[tuple[str, Spoil]] = [
    ("left-unmeasured", lambda m, n: n.update(a=n["b"])),
    ("due-not-measured", lambda m, n: n["f"].update(make_safe=[])),
    ("test-unmeasured", lambda m, n: n["f"].update(make_safe=[])),
    ("rig-unmeasured", lambda m, n: n["f"].update(make_safe=[])),
    ("opened-past", lambda m, n: n["e"].update(make_safe=[])),
    ("opened-past", lambda m, n: n["e"].update(open=["cap", "board"])),
    ("opened-past", lambda m, n: n["c"]["branches"].update(bad="e")),
    ("asked-unexposed", lambda m, n: n["e"].update(make_safe=_ask("C1", "C2"))),
    ("asked-unexposed", lambda m, n: n["z"].update(make_safe=_ask("C0", "C1"))),
    ("asked-unknown", lambda m, n: n["e"].update(make_safe=_ask("C1", "C9"))),
    ("asked-energised", lambda m, n: n["i"].update(make_safe=_ask("C0"))),
    ("asked-elsewhere", lambda m, n: n["e"]["make_safe"][0].update(point="TP1")),
    ("limit-raised", lambda m, n: n["e"]["make_safe"][0].update(below=60)),
    ("energised-to-energised", lambda m, n: n["d"].update(supply="bench", make_safe=[])),
    ("hands-on-energised", lambda m, n: n["h"].update(supply="limited")),
    ("hands-on-energised", lambda m, n: n["f"].update(supply="bench", make_safe=[])),
    ("hands-on-energised", lambda m, n: m["tests"][1].update(hands_on=True)),
    ("opened-on-closed-only", lambda m, n: n["i"].update(supply="socket")),
    ("short-energised", lambda m, n: n["g"]["branches"].update(bad="h")),
    ("bench-wrong", lambda m, n: n["i"].update(rig="none")),
    ("verdict-unmeasured", lambda m, n: n["w"].update(make_safe=_ask("C0", "C1"))),
    ("verdict-unmeasured", lambda m, n: n["z"].update(make_safe=[])),
    ("opening-up-lacks", lambda m, n: n["z"].pop("opening_up")),
    ("opening-up-wrong", lambda m, n: n["z"]["opening_up"][0].update(opening="board")),
    ("caution-unsaid", lambda m, n: n["i"].update(cautions=[])),
    ("caution-unsaid", lambda m, n: n["e"].update(cautions=["charge"])),
    ("caution-unsaid", lambda m, n: n["h"].update(cautions=[])),
    ("hazard-unsaid", lambda m, n: n["j"].update(cautions=[])),
    ("standing-wrong", lambda m, n: n["j"].update(standing=["charge"])),
    ("standing-wrong", lambda m, n: n["b"].update(standing=["charge"])),
    ("standing-wrong", lambda m, n: (n["d"].update(cautions=[]), n["e"].update(cautions=[]))),
]


@pytest.mark.parametrize(("kind", "spoil"), CHARTS, ids=[f"{k}-{i}" for i, (k, _) in
                                                         enumerate(CHARTS)])  # fmt: skip
def test_a_chart_that_breaks_it_is_seen(kind: str, spoil: Spoil) -> None:
    model, spoilt = unit(), copy.deepcopy(chart())
    spoil(model, spoilt["nodes"])
    assert kind in {breach.kind for breach in breaches(model, spoilt)}


def test_a_caution_told_on_one_of_two_paths_does_not_stand() -> None:
    """Another way to the cold test, on which nobody is told of the charge."""
    spoilt = chart()
    nodes = spoilt["nodes"]
    nodes["c"]["branches"]["good"] = "q"
    nodes["q"] = _set_up("r", "", "dead", "none", _ask("C0"))
    nodes["r"] = _set_up("s", "cap", "dead", "none", _ask("C1"))
    nodes["s"] = _set_up("g", "board", "dead", "none", _ask("C2"))
    assert "standing-wrong" in {breach.kind for breach in breaches(unit(), spoilt)}


# ---- the walk ----


def _setting(opened: list[str], new: list[str], supply: str, rig: str, *asked: str) -> Record:
    stores = tuple(Record(part=p, below=30, point=f"{p} ends") for p in asked)
    bench = Record(opened=frozenset(opened), supply=supply, rig=rig)
    return Record(bench=bench, opened=tuple(new), make_safe=stores)


def _ending(kind: str, asked: str = "", later: str = "") -> Record:
    return Record(
        remedy=Record(id="mend", kind=kind),
        make_safe=tuple(Record(part=p) for p in asked.split()),
        opening_up=tuple(Record(part=p) for p in later.split()),
    )


def _arrives(witness: Witness, setting: Record, **volts: float | None) -> None:
    measured = tuple(Record(part=p, volts=v) for p, v in volts.items())
    event = Record(
        opened=tuple(setting.bench.opened), supply=setting.bench.supply, rig=setting.bench.rig,
        measured=measured,
    )  # fmt: skip
    witness.arrives(event, setting)


HERE = _setting([], [], "dead", "none", "C0")
SOCKET = _setting([], [], "socket", "none")
CAP = _setting(["cap"], ["cap"], "dead", "none", "C1")
BOARD = _setting(["cap", "board"], ["board"], "dead", "none", "C2")
CLIP = _setting(["cap", "board"], [], "dead", "clip")
LIMITED = _setting(["cap", "board"], [], "limited", "clip")
OHMS, VOLTS, LAMP = (Record(test=name) for name in ("ohms", "volts", "lamp"))


def opened_up(**volts: float | None) -> Witness:
    """The witness of a unit opened board by board, each store measured as told, 0 V else."""
    witness = Witness(unit())
    for setting, part in ((HERE, "C0"), (CAP, "C1"), (BOARD, "C2")):
        _arrives(witness, setting, **{part: volts.get(part, 0.0)})
    return witness


def kinds(witness: Witness, ahead: Any, ending: Any = None) -> set[str]:
    """What the witness sees wrong with this."""
    return {breach.kind for breach in witness.sees(ahead, ending)}


def test_a_walk_that_keeps_the_law_is_let_be() -> None:
    witness = Witness(unit())
    for setting in (HERE, SOCKET, HERE, CAP, BOARD, CLIP, LIMITED):
        assert witness.sees(setting) == ()
        _arrives(witness, setting, **{store.part: 1.0 for store in setting.make_safe})
        if setting is BOARD:
            assert witness.sees(OHMS) == ()
    assert witness.sees(VOLTS) == ()
    assert witness.sees(None, _ending("repair", "C0 C1 C2")) == ()


def after_verdict() -> Witness:
    """A verdict was told, and something else than the end follows."""
    witness = opened_up()
    witness.goes_on_after_verdict()
    return witness


def left() -> Witness:
    """The bench was left."""
    witness = opened_up()
    witness.leaves()
    return witness


def powered() -> Witness:
    """The opened unit stands on limited mains."""
    witness = opened_up()
    _arrives(witness, CLIP)
    _arrives(witness, LIMITED)
    return witness


def shorted() -> Witness:
    """A short was found."""
    witness = opened_up()
    witness.reads([Record(test="ohms", outcome="bad")])
    return witness


def cap_off(volts: float | None) -> Witness:
    """The cap is off, and the store behind it reads so."""
    witness = Witness(unit())
    _arrives(witness, HERE, C0=0.0)
    _arrives(witness, CAP, C1=volts)
    return witness


WALKS: list[tuple[str, Witness, Any, Any]] = [
    ("due-not-asked", Witness(unit()), _setting(["look"], ["look"], "dead", "none"), None),
    ("left-unmeasured", Witness(unit()), SOCKET, None),
    ("opened-past", Witness(unit()), CAP, None),
    ("opened-past", cap_off(90.0), BOARD, None),
    ("opened-past", cap_off(None), BOARD, None),
    ("test-unmeasured", opened_up(C1=31.0), OHMS, None),
    ("test-unmeasured", opened_up(C1=-90.0), OHMS, None),
    ("test-unmeasured", opened_up(C1=float("nan")), OHMS, None),
    ("past-out-of-reach", opened_up(C2=None), OHMS, None),
    ("past-out-of-reach", opened_up(C2=None), CLIP, None),
    ("past-out-of-reach", opened_up(C2=None), None, _ending("repair")),
    ("rig-unmeasured", opened_up(C2=80.0), CLIP, None),
    (
        "left-unmeasured",
        opened_up(C2=80.0),
        _setting(["cap", "board"], [], "limited", "none"),
        None,
    ),
    ("test-unmeasured", left(), OHMS, None),
    ("unsettled", after_verdict(), OHMS, None),
    ("unsettled", after_verdict(), LIMITED, None),
    ("due-not-asked", after_verdict(), _setting(["cap", "board"], [], "dead", "none", "C1"), None),
    ("due-not-asked", powered(), _setting(["cap", "board"], [], "dead", "clip", "C1", "C2"), None),
    ("asked-unexposed", Witness(unit()), _setting([], [], "dead", "none", "C0", "C1"), None),
    ("asked-energised", opened_up(), _setting(["cap", "board"], [], "bench", "none", "C1"), None),
    ("energised-to-energised", powered(), _setting(["cap", "board"], [], "bench", "clip"), None),
    ("hands-on-energised", opened_up(), LIMITED, None),
    ("opened-on-closed-only", opened_up(), _setting(["cap", "board"], [], "socket", "none"), None),
    ("opening-undone", opened_up(), SOCKET, None),
    ("openings-unsaid", cap_off(0.0), _setting(["cap", "board"], [], "dead", "none", "C2"), None),
    ("short-energised", shorted(), _setting(["cap", "board"], [], "limited", "none"), None),
    ("bench-wrong", opened_up(), LAMP, None),
    ("barred-supply", Witness(unit(), {"socket"}), SOCKET, None),
    ("verdict-unmeasured", powered(), None, _ending("salvage", "C0 C1")),
    ("opening-up-lacks", cap_off(0.0), None, _ending("repair")),
    ("halt-without-cause", opened_up(), Record(stores=()), None),
]


@pytest.mark.parametrize(("kind", "witness", "ahead", "ending"), WALKS,
                         ids=[f"{k}-{i}" for i, (k, *_) in enumerate(WALKS)])  # fmt: skip
def test_a_walk_that_breaks_it_is_seen(
    kind: str, witness: Witness, ahead: Any, ending: Any
) -> None:
    assert kind in kinds(witness, ahead, ending)


def test_what_is_out_of_reach_may_be_opened_towards() -> None:
    """Either of two boards exposes the store; the other one is not out yet."""
    model = unit()
    model["stores"][1]["exposed_by"] = ["cap", "board"]
    witness = Witness(model)
    _arrives(witness, HERE, C0=0.0)
    _arrives(witness, CAP, C1=None)
    onward = _setting(["cap", "board"], ["board"], "dead", "none", "C1", "C2")
    assert witness.sees(onward) == ()
    assert "due-not-asked" in kinds(witness, BOARD)
    assert witness.sees(Record(stores=())) == ()


def test_words_taken_back_unplug_nothing() -> None:
    """The bench is what was carried out last; only a short can be taken back."""
    witness = powered()
    witness.reads([Record(test="ohms", outcome="bad")])
    assert "short-energised" in kinds(witness, VOLTS)
    witness.reads([])
    assert witness.sees(VOLTS) == ()
    assert "bench-wrong" in kinds(witness, OHMS)
