"""Small and random models for tests and benchmarks: every one seeded, every one a real model.

`tiny_model` builds a model from tables; `stage_chain`, `branched_chain` and `dense_random` are the
random families of the benchmarks; `any_model` draws the tiny, awkward ones that whole-plan
enumeration can check: set-ups, split outcomes, several outcomes, overlapping remedies.
"""

from __future__ import annotations

import dataclasses
import random
from collections.abc import Mapping, Sequence

from engine.model.records import (
    FORMAT,
    Arrangement,
    Fault,
    Mains,
    Model,
    Opening,
    Outcome,
    Remedy,
    Rig,
    Start,
    Supply,
    Test,
)

Row = Mapping[str, float]
DEAD = Arrangement("dead", "none", 0.0, True, False)
BENCH = Arrangement("bench", "elv", 12.0, True, False)
LIMITED = Arrangement("limited", "mains", 325.0, False, False)
SOCKET = Arrangement("socket", "mains", 325.0, False, True)
SUPPLY = Supply(
    (DEAD, BENCH, LIMITED, SOCKET),
    {
        "dead": {"dead": 0.0, "bench": 0.5, "limited": 1.0, "socket": 0.5},
        "bench": {"dead": 0.5, "bench": 0.0, "limited": 1.5, "socket": 1.0},
        "limited": {"dead": 1.5, "bench": 2.0, "limited": 0.0, "socket": 2.0},
        "socket": {"dead": 0.5, "bench": 1.0, "limited": 1.5, "socket": 0.0},
    },
)
NO_RIG = Rig("none", 0.0, False)
CLOSED = Start((), "dead", "none")


def simple_test(
    name: str,
    minutes: float = 1.0,
    outcomes: Sequence[str] = ("good", "bad"),
    *,
    opened: Sequence[str] = (),
    supply: str = "dead",
    rig: str = "none",
) -> Test:
    """A test with named outcomes; by default done with the unit dead and closed."""
    answers = tuple(Outcome(o, f"{name} is {o}") for o in outcomes)
    hands = next(a for a in SUPPLY.arrangements if a.id == supply).hands_on
    return Test(name, f"Check {name}", minutes, tuple(opened), supply, rig, hands, answers)


def tiny_model(
    priors: Mapping[str, float],
    tests: Sequence[Test],
    likelihood: Mapping[str, Mapping[str, Row | str]],
    *,
    remedies: Sequence[Remedy] | None = None,
    openings: Sequence[Opening] = (),
    rigs: Sequence[Rig] = (NO_RIG,),
    supply: Supply = SUPPLY,
    start: Start = CLOSED,
    wrong_verdict_minutes: float = 1000.0,
) -> Model:
    """A model from tables; a row is odds by outcome, or the one outcome shown for sure.

    Without `remedies` each fault has its own, free of charge, so that the cost is test minutes.
    """
    total = sum(priors.values())
    chosen = remedies or [Remedy(f"mend-{f}", f"Mend {f}", "repair", 0.0, (f,)) for f in priors]
    rows = {
        test: {f: {row: 1.0} if isinstance(row, str) else dict(row) for f, row in table.items()}
        for test, table in likelihood.items()
    }
    return Model(
        format=FORMAT,
        topology="invented",
        mains=Mains(230.0, 50.0),
        depth="part",
        complaint=None,
        wrong_verdict_minutes=wrong_verdict_minutes,
        faults=tuple(Fault(f, "stage", f"{f} is bad", p / total) for f, p in priors.items()),
        remedies=tuple(chosen),
        proofs=(),
        cautions=(),
        tests=tuple(tests),
        likelihood=rows,
        openings=tuple(openings),
        rigs=tuple(rigs),
        supply=supply,
        stores=(),
        start=start,
    )


def subset_tests(priors: Mapping[str, float], subsets: Sequence[frozenset[str]]) -> Model:
    """One-minute tests, each of which shows `bad` for the faults of one subset."""
    tests = [simple_test(f"t{i}") for i in range(len(subsets))]
    likelihood = {
        test.id: {f: "bad" if f in subset else "good" for f in priors}
        for test, subset in zip(tests, subsets, strict=True)
    }
    return tiny_model(priors, tests, likelihood)


def probe_chain(weights: Sequence[float]) -> Model:
    """Stages in a row with a probe point after each but the last; a probe costs one minute.

    The signal is bad from the faulty stage on, so the plan is an alphabetic tree over the stages.
    """
    faults = {f"s{i}": w for i, w in enumerate(weights)}
    return subset_tests(
        faults,
        [frozenset(f"s{j}" for j in range(i + 1)) for i in range(len(weights) - 1)],
    )


def with_shorts(model: Model, seed: int, share: float = 0.3) -> Model:
    """The model with that share of all outcomes showing a short, whatever they are called."""
    rng = random.Random(seed)
    return dataclasses.replace(
        model,
        tests=tuple(
            dataclasses.replace(
                test,
                outcomes=tuple(
                    dataclasses.replace(o, short=rng.random() < share) for o in test.outcomes
                ),
            )
            for test in model.tests
        ),
    )


def cold_and_live(model: Model, seed: int, opened: float = 0.3) -> Model:
    """The model with its tests dealt to a cold bench and to live ones, all without a rig.

    Cold tests are quick and some need an opening, so that which comes first is worth a thought;
    a few closed-only ones are on low voltage, and some open ones on high-voltage DC.
    """
    rng = random.Random(seed)
    energies = {"bench": "hvdc", "socket": rng.choice(["mains", "mains", "elv"])}
    arrangements = tuple(
        dataclasses.replace(a, energy=energies.get(a.id, a.energy), hands_on=a.energy == "none")
        for a in model.supply.arrangements
    )

    def deal(test: Test) -> Test:
        supply = rng.choice(["dead", "dead", "dead", "limited", "limited", "bench", "socket"])
        wanted = ("cap",) if supply != "socket" and rng.random() < opened else ()
        minutes = test.minutes * (0.4 if supply == "dead" else 1.0)
        hands = supply == "dead"
        return dataclasses.replace(
            test, minutes=minutes, opened=wanted, supply=supply, rig="none", hands_on=hands
        )

    supply = dataclasses.replace(model.supply, arrangements=arrangements)
    return dataclasses.replace(model, tests=tuple(map(deal, model.tests)), supply=supply)


# ---- random families ----

OPENINGS = (
    Opening("cap", 2.0),
    Opening("cover", 3.0, ("cap",)),
    Opening("board", 5.0, ("cover",)),
    Opening("shield", 4.0, ("cap",)),
)
RIGS = (
    NO_RIG,
    Rig("bridged", 1.5, True),
    Rig("fed", 2.0, True),
    Rig("covered", 0.5, False),
    Rig("load-off", 2.5, True),
)


def _setting(rng: random.Random, set_ups: float) -> tuple[tuple[str, ...], str, str]:
    """Where a random test is done: openings, arrangement, rig. `set_ups` is how often it varies."""
    if rng.random() >= set_ups:
        return (), "dead", "none"
    supply = rng.choice(["dead", "bench", "limited", "limited", "socket"])
    if supply == "socket":
        return (), supply, rng.choice(["none", "covered"])
    opened = rng.choice([(), ("cap",), ("cap", "cover"), ("cap", "cover", "board"), ("shield",)])
    rig = rng.choice(["none", "none", "none", "bridged", "fed", "covered", "load-off"])
    return opened, supply, rig


def _priors(rng: random.Random, faults: int) -> dict[str, float]:
    return {f"f{i}": rng.gammavariate(0.7, 1.0) + 0.01 for i in range(faults)}


def _remedies(rng: random.Random, stages: Sequence[Sequence[str]]) -> list[Remedy]:
    """A repair of its own for each fault, and a board for each stage of several."""
    remedies = []
    for i, stage in enumerate(stages):
        for fault in stage:
            minutes = rng.uniform(5.0, 20.0)
            remedies.append(Remedy(f"mend-{fault}", f"Mend {fault}", "repair", minutes, (fault,)))
        if len(stage) > 1:
            minutes = rng.uniform(12.0, 30.0)
            says = f"Replace stage {i}"
            remedies.append(Remedy(f"board-{i}", says, "repair", minutes, tuple(stage)))
    return remedies


def _minutes(rng: random.Random) -> float:
    return round(rng.uniform(0.5, 6.0), 1)


def stage_chain(
    seed: int,
    faults: int = 40,
    tests: int = 60,
    *,
    set_ups: float = 0.7,
    splits: float = 0.0,
    wrong_verdict_minutes: float = 60.0,
) -> Model:
    """A chain of stages with side branches: probe points, swaps and part checks.

    Half the tests are probes (bad for all faults upstream of a point, but for a branch), a quarter
    isolate a stage or two, a quarter single parts; a few have a third outcome. `splits` is the
    share of rows in which the fault shows either outcome.
    """
    rng = random.Random(seed)
    names = list(_priors(rng, faults).items())
    stages = _stages(rng, [name for name, _ in names])
    remedies = _remedies(rng, stages)
    rows: dict[str, dict[str, Row | str]] = {}
    made = []
    for i in range(tests):
        three = rng.random() < 0.2
        outcomes = ("good", "bad", "odd") if three else ("good", "bad")
        opened, supply, rig = _setting(rng, set_ups)
        test = simple_test(f"t{i}", _minutes(rng), outcomes, opened=opened, supply=supply, rig=rig)
        made.append(test)
        rows[test.id] = _chain_rows(rng, stages, three, splits)
    return tiny_model(
        dict(names),
        made,
        rows,
        remedies=remedies,
        openings=OPENINGS,
        rigs=RIGS,
        wrong_verdict_minutes=wrong_verdict_minutes,
    )


def _stages(rng: random.Random, names: list[str]) -> list[list[str]]:
    stages: list[list[str]] = []
    left = list(names)
    while left:
        size = min(len(left), rng.randint(2, 7))
        stages.append([left.pop(0) for _ in range(size)])
    return stages


def _chain_rows(
    rng: random.Random, stages: list[list[str]], three: bool, splits: float
) -> dict[str, Row | str]:
    everything = [fault for stage in stages for fault in stage]
    kind = rng.random()
    if kind < 0.5:
        cut = rng.randrange(1, len(stages)) if len(stages) > 1 else 1
        bad = {f for stage in stages[:cut] for f in stage}
        if rng.random() < 0.3:
            bad -= set(rng.choice(stages))
    elif kind < 0.75:
        hit = rng.sample(stages, min(len(stages), rng.randint(1, 2)))
        bad = {fault for stage in hit for fault in stage}
    else:
        bad = set(rng.sample(everything, rng.randint(1, min(3, len(everything)))))
    odd = set(rng.choice(stages)) if three else set()
    return {
        f: _row(rng, "odd" if f in odd else "bad" if f in bad else "good", splits)
        for f in everything
    }


def _row(rng: random.Random, shown: str, splits: float) -> Row | str:
    if rng.random() >= splits:
        return shown
    odds = rng.choice([0.7, 0.8, 0.9, 0.95])
    other = "bad" if shown == "good" else "good"
    return {shown: odds, other: 1.0 - odds}


def dense_random(
    seed: int,
    faults: int = 40,
    tests: int = 60,
    *,
    outcomes: int = 2,
    set_ups: float = 0.0,
    splits: float = 0.0,
    wrong_verdict_minutes: float = 60.0,
) -> Model:
    """Random tests: each fault shows any outcome, bad ones with a share drawn for each test."""
    rng = random.Random(seed)
    priors = _priors(rng, faults)
    stages = _stages(rng, list(priors))
    remedies = _remedies(rng, stages)
    answers = ("good", "bad", "odd", "dark", "dim", "slow", "hot", "loud")[:outcomes]
    rows: dict[str, dict[str, Row | str]] = {}
    made = []
    for i in range(tests):
        opened, supply, rig = _setting(rng, set_ups)
        test = simple_test(f"t{i}", _minutes(rng), answers, opened=opened, supply=supply, rig=rig)
        made.append(test)
        share = rng.uniform(0.1, 0.5)
        rows[test.id] = {
            f: _row(rng, rng.choice(answers[1:]) if rng.random() < share else "good", splits)
            for f in priors
        }
    return tiny_model(
        priors,
        made,
        rows,
        remedies=remedies,
        openings=OPENINGS,
        rigs=RIGS,
        wrong_verdict_minutes=wrong_verdict_minutes,
    )
