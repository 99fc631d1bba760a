"""What nodes say of going on: a verdict to the part, a test where it can't be done.

That the figures agree with each other and with the verdict's odds, and that what is named is there.
The minutes are those of other plans, so they are not recomputed.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator

from engine.audit.bench import Bench, Document
from engine.audit.breach import Breach, near

_FIGURES = ("minutes", "repair_minutes", "saved")


def onward_breaches(bench: Bench, chart: Document) -> Iterator[Breach]:
    """Verdicts whose `going_on`, and tests whose `instead`, does not hang together."""
    for name, node in chart["nodes"].items():
        if node["kind"] == "test" and node.get("instead") is not None:
            for what in _astray(bench, node, node["instead"]):
                yield Breach("AU212", name, what)
        if node["kind"] == "verdict" and node.get("going_on") is not None:
            for what in _wrong(bench, node, node["going_on"]):
                yield Breach("AU212", name, what)


def _wrong(bench: Bench, node: Document, claim: Document) -> Iterator[str]:
    worth = claim.get("worth")
    figures = [claim.get(key) for key in _FIGURES] + ([] if worth is None else [worth])
    if not all(isinstance(f, (int, float)) and math.isfinite(f) and f >= 0 for f in figures):
        yield "going on is told without its minutes, odds or worth"
        return
    minutes, repair, chance = map(float, figures[:3])  # type: ignore[arg-type]
    if chance > 1.0 and not near(chance, 1.0):
        yield f"the unit is mended {chance:g} times of one"
    pays = None
    if worth is not None:
        pays = "go on" if minutes + repair < chance * float(worth) else "stop"
    if claim.get("advice") != pays:
        yield f"advises {claim.get('advice')!r}, its own sum says {pays!r}"
    parts = {str(part): float(p) for part, p in claim.get("parts") or ()}
    due = _parts(bench, node)
    if parts.keys() != due.keys() or not all(near(p, due[part]) for part, p in parts.items()):
        yield "its parts are not those of the verdict's faults"


def _astray(bench: Bench, node: Document, claim: Document) -> Iterator[str]:
    minutes = claim.get("minutes")
    if not (isinstance(minutes, (int, float)) and math.isfinite(minutes) and minutes >= 0):
        yield "what comes instead is told without its minutes"
    test, remedy = claim.get("test"), claim.get("remedy")
    names = [name for name in (test,) if name in bench.tests]
    names += [name for name in (remedy,) if name in bench.remedies]
    if len(names) != 1 or (test is not None and remedy is not None):
        yield f"what comes instead is neither one test nor one remedy: {test or remedy!r}"
    if test == node["test"]:
        yield f"{test!r} comes instead of itself"


def _parts(bench: Bench, node: Document) -> dict[str, float]:
    """The odds of each part at fault, by the verdict's own; a joint fault counts for each."""
    parts_of = {fault["id"]: fault.get("parts") or () for fault in bench.document["faults"]}
    odds: dict[str, float] = defaultdict(float)
    for fault in node["faults"]:
        for part in {str(p["part"]) for p in parts_of[fault["id"]]}:
            odds[part] += float(fault["p"])
    return {part: p for part, p in odds.items() if p > 1e-6}
