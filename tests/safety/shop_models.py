"""Random models as a shop has them: proofs, stores, hazards, cautions on steps."""

from __future__ import annotations

import random
from dataclasses import replace

from engine.model.records import Caution, Model, Opening, Proof, Rig, Store
from tests.models import dense_random, stage_chain


def furnished(model: Model, rng: random.Random) -> Model:
    """A random model with proofs, stores, hazards and cautions, as a shop's model has them."""
    shock = Caution("shock", "mains-shock", "WARNING", "One hand, insulated probes")
    sharp = Caution("sharp", "sharp-edge", "CAUTION", "Mind the edge")
    soak = Proof("soak", "Closed up at full power", "socket", "steady", "common practice")
    return replace(
        model,
        cautions=(shock, sharp),
        proofs=(soak,),
        stores=(Store("C1", 325.0, "C1 leads", 30.0), Store("C2", 10.0, "C2 leads", 30.0)),
        remedies=tuple(replace(remedy, proofs=("soak",)) for remedy in model.remedies),
        tests=tuple(
            replace(test, hazards=("mains-shock",), cautions=("shock",))
            if test.supply in ("limited", "socket")
            else test
            for test in model.tests
        ),
        openings=tuple(_warned_opening(opening, rng) for opening in model.openings),
        rigs=tuple(_warned_rig(rig, rng) for rig in model.rigs),
    )


def _warned_opening(opening: Opening, rng: random.Random) -> Opening:
    return replace(opening, cautions=("sharp",)) if rng.random() < 0.5 else opening


def _warned_rig(rig: Rig, rng: random.Random) -> Rig:
    return replace(rig, cautions=("sharp",)) if rng.random() < 0.5 else rig


def random_model(seed: int) -> Model:
    rng = random.Random(seed)
    family = stage_chain if seed % 2 else dense_random
    model = family(
        seed,
        faults=rng.randint(2, 20),
        tests=rng.randint(1, 24),
        set_ups=rng.choice([0.0, 0.7, 1.0]),
        splits=rng.choice([0.0, 0.1, 0.4]),
        wrong_verdict_minutes=rng.choice([5.0, 60.0, 400.0]),
    )
    return furnished(model, rng)


def mistaken(model: Model, rate: float) -> Model:
    """The model with each reading mistaken at a rate, shared evenly by the other outcomes."""
    tests = []
    for test in model.tests:
        names = [outcome.id for outcome in test.outcomes]
        share = rate / (len(names) - 1)
        misread = {true: {told: share for told in names if told != true} for true in names}
        tests.append(replace(test, misread=misread))
    return replace(model, tests=tuple(tests))
