"""Random units that hold charge in every awkward way, made by hand for the witnesses.

Stores that are exposed from outside, by one board, by either of two, or don't say; two boards that
come out independently; a source of high direct voltage; an output kept apart from the mains, with
a store of its own; rigs fitted by hand and not; shorts found cold; an opening that opens nothing.

Where the engine's records have no place for one of these, the document alone says it: the witness
reads the document, and the walk is judged by what the unit is.
"""

from __future__ import annotations

import dataclasses
import random
from dataclasses import replace
from typing import Any

from engine.model.records import Arrangement, Caution, Model, Opening, Outcome, Proof, Store, Supply
from engine.model.records import document as model_document
from tests.models import NO_RIG, dense_random, stage_chain
from tests.safety.shop_models import mistaken

Plain = dict[str, Any]

STRING = Arrangement("string", "hvdc", 200.0, False, False)
OUTSIDE = "outside"
"""The opening that opens nothing, as looking at the base contacts does."""

TWO_BOARDS = (
    Opening("cap", 2.0, cautions=("sharp",)),
    Opening("cover", 3.0, ("cap",)),
    Opening("board", 5.0, ("cover",)),
    Opening("shield", 4.0, ("cap",), cautions=("sharp",)),
)


def has_field(record: type, name: str) -> bool:
    """Whether the engine's record has a place for this."""
    return name in {entry.name for entry in dataclasses.fields(record)}


def charged_model(seed: int) -> tuple[Model, Plain]:
    """A random unit and its document, the document telling all that the unit is."""
    rng = random.Random(seed)
    family = rng.choice([stage_chain, dense_random])
    model = family(
        seed,
        faults=rng.randint(2, 10),
        tests=rng.randint(2, 16),
        set_ups=rng.choice([0.7, 1.0]),
        splits=rng.choice([0.0, 0.2, 0.5]),
        wrong_verdict_minutes=rng.choice([5.0, 60.0, 400.0]),
    )
    model = mistaken(_furnished(model, rng), rng.choice([0.0, 0.02, 0.1]))
    told = {store.part: _exposed_by(rng) for store in model.stores}
    shorts = _shorts(model, rng)
    return _told(model, told, shorts), _document(model, told, shorts)


def _furnished(model: Model, rng: random.Random) -> Model:
    """The random unit with a string source, stores, cautions, proofs and verdicts of all kinds."""
    openings = (*TWO_BOARDS, Opening(OUTSIDE, 0.5)) if rng.random() < 0.5 else TWO_BOARDS
    kinds = ["repair", "repair", "repair", "downgrade", "scrap", "salvage", "outside", "none"]
    proof = Proof("soak", "Closed up at full power", "socket", "steady", "common practice")
    return replace(
        model,
        cautions=(
            Caution("shock", "mains-shock", "DANGER", "One hand, insulated probes"),
            Caution("sharp", "sharp-edge", "CAUTION", "Mind the edge"),
        ),
        proofs=(proof,),
        openings=openings,
        supply=_with_string(model.supply),
        stores=_stores(rng),
        remedies=tuple(
            replace(r, kind=rng.choice(kinds), proofs=("soak",)) for r in model.remedies
        ),
        tests=tuple(_moved(test, rng, len(openings) > len(TWO_BOARDS)) for test in model.tests),
    )


def _with_string(supply: Supply) -> Supply:
    minutes = {a: {**row, "string": 2.0} for a, row in supply.minutes.items()}
    minutes["string"] = dict.fromkeys(supply.minutes, 1.5) | {"string": 0.0}
    return Supply((*supply.arrangements, STRING), minutes)


def _stores(rng: random.Random) -> tuple[Store, ...]:
    """One to four stores; the last may hold too little to be asked for."""
    volts = [325.0, 170.0, 60.0, rng.choice([12.0, 90.0])]
    return tuple(
        Store(f"C{i + 1}", volts[i], f"C{i + 1} leads", 30.0) for i in range(rng.randint(1, 4))
    )


def _exposed_by(rng: random.Random) -> tuple[str, ...] | None:
    """What exposes a store: outside, one opening, either of two, or nobody says."""
    forms: list[tuple[str, ...] | None] = [(), None, None]
    forms += [(o.id,) for o in TWO_BOARDS]
    forms += [("board", "shield"), ("cover", "shield"), ("shield", "board", "cover")]
    return rng.choice(forms)


def _moved(test: Any, rng: random.Random, outside: bool) -> Any:
    """The test, now and then on the string source or with the opening that opens nothing."""
    if test.supply == "limited":
        test = replace(test, hazards=("mains-shock",), cautions=("shock",))
        if rng.random() < 0.3:
            test = replace(test, supply="string")
    if outside and test.supply == "dead" and not test.opened and rng.random() < 0.6:
        test = replace(test, opened=(OUTSIDE,), rig=NO_RIG.id)
    return test


def _shorts(model: Model, rng: random.Random) -> frozenset[tuple[str, str]]:
    """Some cold checks whose bad outcome is a short in the power path."""
    cold = [test.id for test in model.tests if test.supply == "dead"]
    return frozenset((test, "bad") for test in cold if rng.random() < 0.25)


def _told(
    model: Model,
    exposed_by: dict[str, tuple[str, ...] | None],
    shorts: frozenset[tuple[str, str]],
) -> Model:
    """The model with as much of this as its records have a place for."""
    if has_field(Store, "exposed_by"):
        stores = [replace(s, **{"exposed_by": exposed_by[s.part]}) for s in model.stores]
        model = replace(model, stores=tuple(stores))
    if has_field(Opening, "inside"):
        openings = [replace(o, **{"inside": o.id != OUTSIDE}) for o in model.openings]
        model = replace(model, openings=tuple(openings))
    if has_field(Outcome, "short"):
        tests = [
            replace(
                test,
                outcomes=tuple(
                    replace(o, **{"short": (test.id, o.id) in shorts}) for o in test.outcomes
                ),
            )
            for test in model.tests
        ]
        model = replace(model, tests=tuple(tests))
    return model


def _document(
    model: Model,
    exposed_by: dict[str, tuple[str, ...] | None],
    shorts: frozenset[tuple[str, str]],
) -> Plain:
    """The model document, whatever the records know."""
    plain = model_document(_told(model, exposed_by, shorts))
    for store in plain["stores"]:
        by = exposed_by[store["part"]]
        store["exposed_by"] = None if by is None else list(by)
    for opening in plain["openings"]:
        opening["inside"] = opening["id"] != OUTSIDE
    for test in plain["tests"]:
        for outcome in test["outcomes"]:
            outcome["short"] = (test["id"], outcome["id"]) in shorts
    return plain
