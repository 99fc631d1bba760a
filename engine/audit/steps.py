"""A walk document recomputed: minutes, stands of the bench in order, beliefs, the verdict."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from engine.audit.bench import Bench, Document, Floats, Stand
from engine.audit.breach import Breach, near
from engine.audit.charge import end_breaches
from engine.audit.keeping import Keeping, answer_kept, left_kept, setup_kept, test_kept
from engine.audit.safety import REACHING_IN, change_breaches, stand_breaches, touch_breaches
from engine.documents.walk import FORMAT

_DONE = ("test", "setup")
_TOLD = ("test", "known")
_BUILD = ("not-fitted", "fitted", "of-kind")
_SAYS = (*_TOLD, "repair", *_BUILD)
_TURNED_AWAY = ("refuse", "scrap")


def walk_breaches(bench: Bench, walk: Document) -> Iterator[Breach]:
    """Every breach of a walk.

    Set-ups may stand as steps of their own (`setup`, with the stand they lead to) or be left to
    the stands of the tests. Steps of other kinds cost what they say.
    """
    if walk.get("format") != FORMAT:
        yield Breach("AU401", "", f"the format is {walk.get('format')!r}, not {FORMAT!r}")
    if walk.get("topology") != bench.document["topology"]:
        yield Breach("AU401", "", f"{walk.get('topology')!r} is not the model's topology")
    misshapen = tuple(_names(bench, walk))
    yield from misshapen
    if misshapen:
        return
    stand, total, keeping = bench.start, _minutes_before(walk), Keeping()
    for number, step in enumerate(walk["steps"], start=1):
        name = str(number)
        if step["kind"] not in _DONE:
            total += float(step.get("minutes", 0.0))
            if step["kind"] == "known":
                keeping = answer_kept(bench, step, keeping)
            if step["kind"] in _BUILD:
                yield from _build(bench, name, step, weighed=walk.get("circuit") is not None)
            if step["kind"] == "repair":
                yield from _repair(bench, name, step)
            if step["kind"] in ("repair", "away"):
                keeping = left_kept(keeping)
            if step["kind"] == "traced":
                bench = bench.with_drawing(str(step.get("stage")))
            continue
        new = Stand(frozenset(step["opened"]), step["supply"], step["rig"])
        total += _minutes(bench, step, stand, new)
        yield from _change(bench, name, stand, new)
        setting = step["kind"] == "setup"
        yield from (_setup if setting else _test)(bench, name, step, stand, new)
        keep = setup_kept if setting else test_kept
        keeping, breaches = keep(bench, name, step, stand, new, keeping)
        yield from breaches
        stand = new
    if not near(float(walk["minutes"]), total):
        yield Breach("AU402", "", f"says {walk['minutes']} minutes, recomputed {total:.9g}")
    yield from _beliefs(bench, walk)
    yield from _verdict(bench, walk)
    yield from _end(bench, walk, stand, keeping)


def _end(bench: Bench, walk: Document, stand: Stand, keeping: Keeping) -> Iterator[Breach]:
    """What is due where the remedy begins, and what it comes upon, is said at the verdict, where
    the document says anything of stores there."""
    verdict = walk.get("verdict")
    if not walk["steps"] or not isinstance(verdict, Mapping) or "opening_up" not in verdict:
        return
    remedy = bench.remedies.get(str(verdict.get("remedy")))
    if remedy is not None:
        low = frozenset[str]() if keeping.left else keeping.low
        reaches_in = remedy["kind"] in REACHING_IN
        yield from end_breaches(bench, "", verdict, [(stand, low)], reaches_in)


def _minutes_before(walk: Document) -> float:
    """What a walk that led to this one took, as its options say; nothing where they say none."""
    options = walk.get("options")
    minutes = options.get("minutes_before", 0.0) if isinstance(options, Mapping) else 0.0
    try:
        return max(0.0, float(minutes))
    except (TypeError, ValueError):
        return 0.0


def _names(bench: Bench, walk: Document) -> Iterator[Breach]:
    steps = walk.get("steps")
    if not isinstance(steps, list) or not isinstance(walk.get("minutes"), (int, float)):
        yield Breach("AU401", "", "steps or minutes are missing")
        return
    for number, step in enumerate(steps, start=1):
        if step.get("kind") in _TOLD:
            yield from _answer_names(bench, str(number), step)
        if step.get("kind") == "repair":
            yield from _repair_names(bench, str(number), step)
        if step.get("kind") in _BUILD and "factors" not in step:
            yield Breach("AU406", str(number), "how a unit is built says nothing of the faults")
        if step.get("kind") not in _DONE:
            continue
        are_names = (
            set(step.get("opened", ())) <= bench.openings.keys()
            and step.get("supply") in bench.arrangements
            and step.get("rig") in bench.rigs
        )
        if not are_names:
            yield Breach("AU401", str(number), "opened, supply or rig are not the model's")


def _answer_names(bench: Bench, number: str, step: Document) -> Iterator[Breach]:
    if step.get("test") not in bench.tests:
        yield Breach("AU401", number, f"the model has no test {step.get('test')!r}")
    elif step.get("answer") not in bench.odds[step["test"]]:
        yield Breach("AU401", number, f"{step.get('answer')!r} is no outcome of the test")
    yield from _factors(bench, number, step)
    if step.get("belief", {}).keys() - set(bench.faults):
        yield Breach("AU401", number, "the belief names faults the model does not have")


def _repair_names(bench: Bench, number: str, step: Document) -> Iterator[Breach]:
    if step.get("remedy") not in bench.remedies:
        yield Breach("AU401", number, f"the model has no remedy {step.get('remedy')!r}")
    if "factors" not in step:
        yield Breach("AU406", number, "a repair that did not help says nothing of the faults")
    yield from _factors(bench, number, step)


def _repair(bench: Bench, number: str, step: Document) -> Iterator[Breach]:
    """A repair that did not help speaks against what it cures, and against nothing else."""
    cures = set(bench.remedies[step["remedy"]]["cures"])
    others = [float(p) for fault, p in step["factors"].items() if fault not in cures]
    if others and min(others) < max(map(float, step["factors"].values())):
        yield Breach("AU406", number, "a repair speaks against faults that it does not cure")


def _build(bench: Bench, number: str, step: Document, *, weighed: bool) -> Iterator[Breach]:
    """A part that is not there rules out its own faults, and nothing else is ruled out; where no
    circuit weighs designs, all others are left as they were."""
    for fault, parts in bench.parts.items():
        is_lost = step["kind"] == "not-fitted" and step["part"] in parts
        factor = float(step["factors"].get(fault, -1.0))
        is_right = (factor == 0.0) if is_lost else (factor > 0.0 if weighed else near(factor, 1.0))
        if not is_right:
            what = f"{fault!r} is not weighed as a fault {'of' if is_lost else 'beside'} it"
            yield Breach("AU406", number, what)
    yield from _factors(bench, number, step)


def _factors(bench: Bench, number: str, step: Document) -> Iterator[Breach]:
    """Factors speak of every possible fault, and those of a reading rule none out."""
    if "factors" not in step:
        return
    factors = step["factors"]
    possible = {f for f, p in zip(bench.faults, bench.prior, strict=True) if p > 0}
    if set(factors) - set(bench.faults) or possible - set(factors):
        yield Breach("AU406", number, "the factors are not those of the model's faults")
        return
    least, most = min(map(float, factors.values())), max(map(float, factors.values()))
    if least < 0.0 or (step.get("reading") and least == 0.0) or not near(most, 1.0):
        yield Breach("AU406", number, "a factor is no share of the largest, or rules a fault out")


def _minutes(bench: Bench, step: Document, old: Stand, new: Stand) -> float:
    alone = float(bench.tests[step["test"]]["minutes"]) if step["kind"] == "test" else 0.0
    return alone + bench.setup_minutes(old, new)


def _change(bench: Bench, number: str, old: Stand, new: Stand) -> Iterator[Breach]:
    if old.opened - new.opened:
        openings = ", ".join(sorted(old.opened - new.opened))
        yield Breach("AU403", number, f"{openings} was open and is no longer")
    yield from stand_breaches(bench, number, new)


def _setup(bench: Bench, number: str, step: Document, old: Stand, new: Stand) -> Iterator[Breach]:
    minutes = bench.setup_minutes(old, new)
    if not near(float(step.get("minutes", minutes)), minutes):
        what = f"says {step['minutes']} minutes, the rule gives {minutes:g}"
        yield Breach("AU402", number, what)
    yield from change_breaches(bench, number, old, new)


def _test(bench: Bench, number: str, step: Document, old: Stand, new: Stand) -> Iterator[Breach]:
    test = bench.tests[step["test"]]
    alone, whole = float(test["minutes"]), _minutes(bench, step, old, new)
    claim = float(step.get("minutes", alone))
    if not near(claim, alone) and not near(claim, whole):
        what = f"says {claim:g} minutes, the test takes {alone:g}, with its set-up {whole:g}"
        yield Breach("AU402", number, what)
    openings = bench.closure(set(test["opened"]))
    if not openings <= new.opened or (new.supply, new.rig) != (test["supply"], test["rig"]):
        yield Breach("AU203", number, f"test {step['test']!r} is done outside its state")
    yield from touch_breaches(bench, number, test, new.supply)


def _likelihood(bench: Bench, step: Document) -> Floats:
    """Odds under each fault of what the step tells, misreads included: the factors of a reading
    that was weighed by the circuit, else from the model document."""
    if "factors" in step:
        return np.array([float(step["factors"].get(fault, 0.0)) for fault in bench.faults])
    test = bench.tests[step["test"]]
    shares = step.get("shares") or {step["answer"]: 1.0}
    odds = np.zeros(len(bench.faults))
    for true, row in bench.odds[step["test"]].items():
        wrong = {o: p for o, p in test.get("misread", {}).get(true, {}).items() if o != true}
        report = {**wrong, true: 1.0 - sum(wrong.values())}
        odds += row * sum(float(share) * report.get(o, 0.0) for o, share in shares.items())
    return odds


def _beliefs(bench: Bench, walk: Document) -> Iterator[Breach]:
    """The belief after each answer is the model's prior times all that was told so far."""
    weights = bench.prior.copy()
    for number, step in enumerate(walk["steps"], start=1):
        if step["kind"] in _SAYS:
            weights = weights * _likelihood(bench, step)
        total = float(weights.sum())
        belief = step.get("belief", {})
        if not belief or total <= 0.0:
            continue
        for fault, weight in zip(bench.faults, weights, strict=True):
            claim = float(belief.get(fault, 0.0))
            if not near(claim, float(weight) / total):
                what = f"says {fault!r} {claim:.6g}, recomputed {float(weight) / total:.6g}"
                yield Breach("AU405", str(number), what)


def _verdict(bench: Bench, walk: Document) -> Iterator[Breach]:
    verdict = walk.get("verdict")
    if not walk["steps"] and isinstance(verdict, Mapping) and verdict.get("kind") in _TURNED_AWAY:
        return
    if not isinstance(verdict, Mapping) or verdict.get("remedy") not in bench.remedies:
        yield Breach("AU404", "", "the walk ends in no remedy of the model")
        return
    claims = {fault.get("id"): float(fault.get("p", -1)) for fault in verdict.get("faults", ())}
    if claims.keys() - set(bench.faults) or any(p < 0 for p in claims.values()):
        yield Breach("AU404", "", "the verdict lists what the model does not have")
        return
    cures = bench.remedies[verdict["remedy"]]["cures"]
    confidence = sum(p for fault, p in claims.items() if fault in cures)
    complete = near(sum(claims.values()), 1.0)
    if complete and not near(float(verdict.get("confidence", -1)), confidence):
        what = f"says confidence {verdict.get('confidence')}, its odds give {confidence:.6g}"
        yield Breach("AU404", "", what)
    proofs = set(bench.remedies[verdict["remedy"]].get("proofs", ()))
    if proofs != set(verdict.get("proofs", ())):
        yield Breach("AU404", "", "the proofs are not those of the remedy")
