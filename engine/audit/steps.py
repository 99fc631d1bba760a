"""A walk document recomputed: minutes, stands of the bench in order, the verdict."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from engine.audit.bench import Bench, Document, Stand
from engine.audit.breach import TOLERANCE, Breach, near
from engine.audit.safety import (
    change_breaches,
    made_safe_breaches,
    stand_breaches,
    touch_breaches,
)
from engine.audit.shape import hash_breaches

FORMAT = "nextprobe-walk/1"

_DONE = ("test", "setup")
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
    yield from hash_breaches(bench.document, walk)
    misshapen = tuple(_names(bench, walk))
    yield from misshapen
    if misshapen:
        return
    stand, total = bench.start, 0.0
    for number, step in enumerate(walk["steps"], start=1):
        if step["kind"] not in _DONE:
            total += float(step.get("minutes", 0.0))
            continue
        new = Stand(frozenset(step["opened"]), step["supply"], step["rig"])
        total += _minutes(bench, step, stand, new)
        yield from _change(bench, str(number), stand, new)
        check = _setup if step["kind"] == "setup" else _test
        yield from check(bench, str(number), step, stand, new)
        stand = new
    if not near(float(walk["minutes"]), total):
        yield Breach("AU402", "", f"says {walk['minutes']} minutes, recomputed {total:.9g}")
    yield from _verdict(bench, walk)


def _names(bench: Bench, walk: Document) -> Iterator[Breach]:
    steps = walk.get("steps")
    if not isinstance(steps, list) or not isinstance(walk.get("minutes"), (int, float)):
        yield Breach("AU401", "", "steps or minutes are missing")
        return
    for number, step in enumerate(steps, start=1):
        if step.get("kind") not in _DONE:
            continue
        if step["kind"] == "setup":
            pass
        elif step.get("test") not in bench.tests:
            yield Breach("AU401", str(number), f"the model has no test {step.get('test')!r}")
        elif step.get("answer") not in bench.odds[step["test"]]:
            yield Breach("AU401", str(number), f"{step.get('answer')!r} is no outcome of the test")
        known = (
            set(step.get("opened", ())) <= bench.openings.keys()
            and step.get("supply") in bench.arrangements
            and step.get("rig") in bench.rigs
        )
        if not known:
            yield Breach("AU401", str(number), "opened, supply or rig are not the model's")


def _minutes(bench: Bench, step: Document, old: Stand, new: Stand) -> float:
    alone = float(bench.tests[step["test"]]["minutes"]) if step["kind"] == "test" else 0.0
    return alone + bench.setup_minutes(old, new)


def _change(bench: Bench, number: str, old: Stand, new: Stand) -> Iterator[Breach]:
    if old.opened - new.opened:
        closed = ", ".join(sorted(old.opened - new.opened))
        yield Breach("AU403", number, f"{closed} was open and is no longer")
    yield from stand_breaches(bench, number, new)


def _setup(bench: Bench, number: str, step: Document, old: Stand, new: Stand) -> Iterator[Breach]:
    minutes = bench.setup_minutes(old, new)
    if not near(float(step.get("minutes", minutes)), minutes):
        what = f"says {step['minutes']} minutes, the rule gives {minutes:g}"
        yield Breach("AU402", number, what)
    yield from change_breaches(bench, number, old, new)
    if "make_safe" in step:
        yield from made_safe_breaches(bench, number, step, old)


def _test(bench: Bench, number: str, step: Document, old: Stand, new: Stand) -> Iterator[Breach]:
    test = bench.tests[step["test"]]
    alone, whole = float(test["minutes"]), _minutes(bench, step, old, new)
    said = float(step.get("minutes", alone))
    if not near(said, alone) and not near(said, whole):
        what = f"says {said:g} minutes, the test takes {alone:g}, with its set-up {whole:g}"
        yield Breach("AU402", number, what)
    needed = bench.needed(set(test["opened"]))
    if not needed <= new.opened or (new.supply, new.rig) != (test["supply"], test["rig"]):
        yield Breach("AU203", number, f"test {step['test']!r} is done outside its state")
    yield from touch_breaches(bench, number, test, new.supply)
    yield from _belief(bench, number, step.get("belief", {}))


def _belief(bench: Bench, number: str, belief: Mapping[str, Any]) -> Iterator[Breach]:
    if belief.keys() - set(bench.faults):
        yield Breach("AU401", number, "the belief names faults the model does not have")
    total = sum(float(odds) for odds in belief.values())
    if any(not 0 <= float(odds) <= 1 + TOLERANCE for odds in belief.values()) or total > 1.001:
        yield Breach("AU404", number, f"the belief sums to {total:.6g}")


def _verdict(bench: Bench, walk: Document) -> Iterator[Breach]:
    verdict = walk.get("verdict")
    if not walk["steps"] and isinstance(verdict, Mapping) and verdict.get("kind") in _TURNED_AWAY:
        return
    if not isinstance(verdict, Mapping) or verdict.get("remedy") not in bench.remedies:
        yield Breach("AU404", "", "the walk ends in no remedy of the model")
        return
    listed = {fault.get("id"): float(fault.get("p", -1)) for fault in verdict.get("faults", ())}
    if listed.keys() - set(bench.faults) or any(p < 0 for p in listed.values()):
        yield Breach("AU404", "", "the verdict lists what the model does not have")
        return
    cured = bench.remedies[verdict["remedy"]]["cures"]
    confidence = sum(p for fault, p in listed.items() if fault in cured)
    complete = near(sum(listed.values()), 1.0)
    if complete and not near(float(verdict.get("confidence", -1)), confidence):
        what = f"says confidence {verdict.get('confidence')}, its odds give {confidence:.6g}"
        yield Breach("AU404", "", what)
    proofs = set(bench.remedies[verdict["remedy"]].get("proofs", ()))
    if proofs != set(verdict.get("proofs", ())):
        yield Breach("AU404", "", "the proofs are not those of the remedy")
