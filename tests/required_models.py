"""Random models of the bench as it is: leads, tracing, requirements, repairs that are tried.

Each function puts one thing on top of a model; `bench_model` deals them all, seeded. Small enough
that `tests.enumeration` can try every plan.
"""

from __future__ import annotations

import dataclasses
import random
from collections.abc import Mapping

from engine.model.records import Model, Opening, Outcome, Remedy, Requirement, Rig, Test
from tests.models import cold_and_live, dense_random, stage_chain, with_shorts


def with_leads(model: Model, rng: random.Random, leads: int) -> Model:
    """Some tests are read over leads, a few over two; where each is behind is dealt, too."""
    behind = [(), (), ("cap",), ("cap", "cover")]
    made = tuple(
        Opening(f"lead-{i}", rng.choice([0.5, 0.7, 2.0, 4.0]), rng.choice(behind), kind="lead",
                of=f"tp{i}")
        for i in range(leads)
    )  # fmt: skip

    def deal(test: Test) -> Test:
        if test.supply == "socket" or rng.random() < 0.35:
            return test
        many = 2 if leads > 1 and rng.random() < 0.2 else 1
        wanted = tuple(o.id for o in rng.sample(made, many))
        return dataclasses.replace(test, opened=(*test.opened, *wanted))

    return dataclasses.replace(
        model, openings=(*model.openings, *made), tests=tuple(map(deal, model.tests))
    )


def with_tracing(model: Model, rng: random.Random) -> Model:
    """Some tests need a stage traced first, behind an opening or not."""
    after = rng.choice([(), ("cap",), ("shield",)])
    traced = Opening("trace-s", rng.choice([1.0, 6.0]), after, kind="tracing", stage="stage")

    def deal(test: Test) -> Test:
        if test.supply == "socket" or rng.random() < 0.6:
            return test
        return dataclasses.replace(test, opened=(*test.opened, traced.id))

    return dataclasses.replace(
        model, openings=(*model.openings, traced), tests=tuple(map(deal, model.tests))
    )


def with_mute_tests(model: Model, rng: random.Random, many: int) -> Model:
    """Some tests tell nothing: they show one thing, or two by mere chance, whatever is wrong."""
    chosen = {t.id for t in rng.sample(model.tests, min(many, len(model.tests)))}
    rows = dict(model.likelihood)
    for test in model.tests:
        if test.id in chosen:
            names = [o.id for o in test.outcomes]
            odds = rng.choice([1.0, 1.0, 0.6])
            row = {names[0]: odds, names[1]: 1.0 - odds} if odds < 1.0 else {names[0]: 1.0}
            rows[test.id] = {f.id: dict(row) for f in model.faults}
    return dataclasses.replace(model, likelihood=rows)


def requirement(model: Model, rng: random.Random, of: str, *, strict: bool) -> Requirement:
    """What an answer must have shown: by any outcome of a test or two, or by some only."""
    any_outcome = rng.random() < 0.5
    by = {}
    for test in rng.sample(model.tests, rng.randint(1, min(2, len(model.tests)))):
        names = tuple(o.id for o in test.outcomes)
        by[test.id] = names if any_outcome else tuple(rng.sample(names, 1))
    if rng.random() < 0.15:
        by = {"a-test-that-the-shop-lacks": ("good",)} | (by if rng.random() < 0.5 else {})
    return Requirement(of, by, f"{of} shown", strict)


def with_requirements(model: Model, rng: random.Random, share: float) -> Model:
    """Remedies, and some tests, that wait for what must be shown; a way out that waits for nothing.

    Some requirements are shared between remedies, as a part's own check is.
    """
    pool = [
        requirement(model, rng, f"p{i}", strict=rng.random() < 0.4)
        for i in range(rng.randint(1, 4))
    ]

    def pick() -> tuple[Requirement, ...]:
        if rng.random() >= share:
            return ()
        return tuple(rng.sample(pool, rng.randint(1, min(2, len(pool)))))

    remedies = tuple(dataclasses.replace(r, requires=pick()) for r in model.remedies)
    tests = tuple(
        dataclasses.replace(t, requires=pick() if rng.random() < 0.3 else ()) for t in model.tests
    )
    scrap = Remedy(
        "scrap", "Scrap the unit", "scrap", rng.choice([15.0, 40.0, 120.0]),
        tuple(f.id for f in model.faults if rng.random() < 0.8),
    )  # fmt: skip
    return dataclasses.replace(model, remedies=(*remedies, scrap), tests=tests)


def with_tries(model: Model, rng: random.Random, many: int) -> Model:
    """Some repairs can be tried: the rig is the repair, the unit then works or does not, and it is
    kept for next to nothing once it works."""
    mends = [r for r in model.remedies if r.kind == "repair" and r.cures]
    for remedy in rng.sample(mends, min(many, len(mends))):
        model = _with_try(model, rng, remedy)
    return model


def _with_try(model: Model, rng: random.Random, remedy: Remedy) -> Model:
    """One repair that is tried, by turns with the remedy's requirements, with fewer, with none;
    beside it now and then a test that watches the unit without the repair."""
    rig = Rig(f"mend-{remedy.id}", remedy.minutes, True)
    supply = rng.choice(["limited", "socket", "bench"])
    opened = () if supply == "socket" else rng.choice([(), ("cap",)])
    requires = remedy.requires[: rng.choice([len(remedy.requires), 2, 1, 0])]
    test = Test(
        f"try-{remedy.id}", f"Try {remedy.id}", rng.choice([0.0, 1.0, 2.0]), opened, supply, rig.id,
        False, (Outcome("works", "works"), Outcome("still", "still bad")), mends=remedy.id,
        requires=requires,
    )  # fmt: skip
    sure = rng.choice([1.0, 1.0, 0.97])
    cured, watched = set(remedy.cures), rng.random() < 0.5
    works = {f.id: sure if f.id in cured else 0.0 for f in model.faults}
    if watched:  # a fault that comes and goes
        works |= {f.id: rng.choice([0.0, 0.0, 0.5, 1.0]) for f in model.faults if f.id not in cured}
    kept = Requirement(test.id, {test.id: ("works",)}, "the unit tried after the repair", True)
    keep = dataclasses.replace(
        remedy, id=f"keep-{remedy.id}", minutes=rng.choice([0.0, 1.0, 3.0]), requires=(kept,)
    )
    model = _with_test(model, test, works)
    if watched:
        name = f"watch-{remedy.id}"
        watch = dataclasses.replace(test, id=name, rig="none", mends="", requires=())
        model = _with_test(model, watch, works | dict.fromkeys(cured, 0.0))
    return dataclasses.replace(
        model, rigs=(*model.rigs, rig), remedies=(*model.remedies, keep)
    )


def _with_test(model: Model, test: Test, works: Mapping[str, float]) -> Model:
    """The model with one more test, that shows `works` with these odds, else `still`."""
    rows = {
        fault: {o: p for o, p in (("works", odds), ("still", 1.0 - odds)) if p > 0}
        for fault, odds in works.items()
    }
    return dataclasses.replace(
        model, tests=(*model.tests, test), likelihood=dict(model.likelihood) | {test.id: rows}
    )


def bench_model(
    seed: int, *, splits: float, most_faults: int = 6, most_tests: int = 5, leads: int = 2
) -> Model:
    """A model with some of everything; `splits` is the share of rows that split."""
    rng = random.Random(seed)
    family = rng.choice([stage_chain, dense_random])
    tries = rng.choice([0, 0, 1, 2])
    model = family(
        seed, rng.randint(2, most_faults), rng.randint(2, max(2, most_tests - tries)),
        set_ups=rng.choice([0.0, 0.6, 1.0]), splits=splits,
        wrong_verdict_minutes=rng.choice([20.0, 60.0, 300.0]),
    )  # fmt: skip
    if rng.random() < 0.5:
        model = with_shorts(model, seed, rng.choice([0.2, 0.4]))
    if rng.random() < 0.5:
        model = cold_and_live(model, seed)
    if rng.random() < 0.4:
        model = with_tracing(model, rng)
    if leads and rng.random() < 0.7:
        model = with_leads(model, rng, rng.randint(1, leads))
    if rng.random() < 0.5:
        model = with_mute_tests(model, rng, rng.choice([1, 1, 2]))
    if rng.random() < 0.85:
        model = with_requirements(model, rng, rng.choice([0.3, 0.6, 1.0]))
    return with_tries(model, rng, tries)
