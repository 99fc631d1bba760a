"""The safety invariants that documents show, over every path of a chart."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from engine.audit.arrival import (
    Arrival,
    Standing,
    begins_anew,
    hands_of,
    heard_on,
    nodes_of,
    stand_after,
)
from engine.audit.bench import Bench, Document, Stand
from engine.audit.breach import Breach
from engine.audit.charge import (
    CHARGING,
    bench_breaches,
    end_breaches,
    hands_breaches,
    is_open,
    limit_breaches,
    stores_named,
)
from engine.model.absence import NO_REPAIR

ELV_VOLTS = 60.0
"""Bare parts above 60 V DC are not touched (IEC 60598-1 cl. 8.2.3 after IEC 60364-4-41)."""

LIVE_LED_BOARD = "live-led-board"
"""The hazard of an opened, mains-referenced, energised unit."""

STORED_CHARGE = "stored-charge"
"""The hazard of a step in which a store is measured."""

REACHING_IN = ("repair", "downgrade", "scrap", "salvage")
"""Remedies that take hands into the unit."""

UNPROVEN_KINDS = ("outside", NO_REPAIR, "scrap", "salvage", "refuse", "connector")
"""Remedies after which nothing of ours goes back into use."""


def supply_breaches(bench: Bench) -> Iterator[Breach]:
    """Arrangements that let hands touch what they must not (invariant 1)."""
    yield from limit_breaches(bench)
    for name, arrangement in bench.arrangements.items():
        energy, volts = arrangement["energy"], float(arrangement["max_volts"])
        if energy in ("mains", "hvdc") and arrangement["hands_on"]:
            yield Breach("AU302", "", f"{name!r} is {energy}, yet hands may touch")
        if energy == "elv" and volts > ELV_VOLTS:
            yield Breach("AU302", "", f"{name!r} is called elv at {volts:g} V")


def safety_breaches(bench: Bench, chart: Document, came: Mapping[str, Arrival]) -> Iterator[Breach]:
    """Breaches at set-ups, tests and verdicts (invariants 1, 2, 3, 6)."""
    for name, node, here in nodes_of(chart, came, "setup"):
        _, wrong = stores_named(bench, node.get("make_safe") or (), name)
        yield from wrong
        for standing in here.standings:
            new = stand_after(node, standing.now)
            yield from _setup_cautions(bench, name, node, standing)
            yield from change_breaches(bench, name, standing.now, new)
            yield from hands_breaches(bench, name, hands_of(bench, node, standing))
            yield from stand_breaches(bench, name, new)
            yield from _short_breaches(bench, name, new, standing.short)
    for name, node, here in nodes_of(chart, came, "test"):
        yield from _test(bench, name, node, here)
    group = frozenset((chart.get("grouped") or {}).get("verdict", ()))
    for name, node, here in nodes_of(chart, came, "verdict"):
        yield from _verdict(bench, name, node, here, group)


def _verdict(
    bench: Bench, name: str, node: Document, here: Arrival, group: frozenset[str]
) -> Iterator[Breach]:
    remedy = bench.remedies[node["remedy"]]
    reaches_in = remedy["kind"] in REACHING_IN
    base = group if reaches_in else frozenset()
    for standing in here.standings:
        dead = Stand(standing.now.opened, bench.dead, standing.now.rig)
        anew = begins_anew(bench, standing.now, dead)
        standing_cautions = base if anew else base | standing.cautions
        yield from _cautions(name, node, remedy.get("cautions", ()), standing_cautions)
    stands = [(standing.now, standing.low) for standing in here.standings]
    yield from end_breaches(bench, name, node, stands, reaches_in)


def change_breaches(bench: Bench, name: str, old: Stand, new: Stand) -> Iterator[Breach]:
    """Hands and energised arrangements meet only by way of the dead one (invariants 1, 3)."""
    is_live = bench.dead not in (old.supply, new.supply)
    if is_live and (bench.touches(old, new) or old.supply != new.supply):
        what = f"from {old.supply!r} to {new.supply!r} not by way of {bench.dead!r}"
        yield Breach("AU304", name, what)


def _short_breaches(bench: Bench, name: str, stand: Stand, short: str) -> Iterator[Breach]:
    """What was found shorted is not energised."""
    if short and bench.energy(stand.supply) in CHARGING:
        yield Breach("AU313", name, f"{stand.supply!r} after {short!r} has found a short")


def stand_breaches(bench: Bench, name: str, stand: Stand) -> Iterator[Breach]:
    """An opened unit sees no closed-only supply (invariant 2); openings came in order."""
    if missing := bench.closure(stand.opened) - stand.opened:
        yield Breach("AU310", name, f"opened before {', '.join(sorted(missing))}")
    if is_open(bench, stand.opened) and bench.arrangements[stand.supply]["closed_only"]:
        yield Breach("AU303", name, f"opened unit on {stand.supply!r}, for closed units only")


def touch_breaches(bench: Bench, name: str, step: Document, supply: str) -> Iterator[Breach]:
    """Hands-on only where hands may touch (invariant 1)."""
    arrangement = bench.arrangements[supply]
    is_off_limits = not arrangement["hands_on"] or arrangement["energy"] in ("mains", "hvdc")
    if step.get("hands_on", False) and is_off_limits:
        yield Breach("AU301", name, f"{step['id']!r} is hands-on, on {supply!r}")


def _setup_cautions(
    bench: Bench, name: str, node: Document, standing: Standing
) -> Iterator[Breach]:
    """What the openings, the new supply, the new rig and the stores of a set-up warn of."""
    old = standing.now
    steps = [bench.openings[opening] for opening in node["open"]]
    if node["supply"] != old.supply:
        steps.append(bench.arrangements[node["supply"]])
    if node["rig"] != old.rig:
        steps.append(bench.rigs[node["rig"]])
    standing_cautions = heard_on(bench, node, standing)
    demands = [caution for step in steps for caution in step.get("cautions", ())]
    yield from _cautions(name, node, demands, standing_cautions)
    if node.get("make_safe"):
        yield from _hazards(bench, name, node, (STORED_CHARGE,), standing_cautions)


def _cautions(
    name: str, node: Document, demands: Iterable[str], before: frozenset[str]
) -> Iterator[Breach]:
    """Each caution wanted is told here or was told since this bench state began."""
    for caution in dict.fromkeys(demands):
        if caution not in node["cautions"] and caution not in before:
            yield Breach("AU306", name, f"the step's own caution {caution!r} is missing")
    for caution in node.get("standing") or ():
        if caution not in before:
            yield Breach("AU314", name, f"{caution!r} is said to stand and was not told before")


def _hazards(
    bench: Bench, name: str, node: Document, hazards: Iterable[str], before: frozenset[str]
) -> Iterator[Breach]:
    """Each hazard has a caution of its own told here or standing, where the model has one."""
    hazards_of_model = {caution["hazard"] for caution in bench.cautions.values()}
    warnings = {bench.cautions[c]["hazard"] for c in (*node["cautions"], *before)}
    for hazard in hazards:
        if hazard in hazards_of_model and hazard not in warnings:
            yield Breach("AU306", name, f"no caution of hazard {hazard!r} at the step")


def _test(bench: Bench, name: str, node: Document, here: Arrival) -> Iterator[Breach]:
    test = bench.tests[node["test"]]
    hazards = {caution["hazard"] for caution in bench.cautions.values()}
    for hazard in set(test.get("hazards", ())) - hazards:
        yield Breach("AU306", name, f"no caution of hazard {hazard!r} at the step")
    for standing in here.standings:
        stand, before = standing.now, standing.cautions
        yield from _cautions(name, node, test.get("cautions", ()), before)
        yield from _hazards(bench, name, node, test.get("hazards", ()), before)
        yield from touch_breaches(bench, name, test, stand.supply)
        yield from stand_breaches(bench, name, stand)
        yield from bench_breaches(bench, name, stand, standing.low, f"test {test['id']!r}")
        yield from _short_breaches(bench, name, stand, standing.short)
        live = is_open(bench, stand.opened) and bench.energy(stand.supply) == "mains"
        warnings = {bench.cautions[c]["hazard"] for c in (*node["cautions"], *before)}
        if live and LIVE_LED_BOARD in hazards and LIVE_LED_BOARD not in warnings:
            yield Breach("AU307", name, "opened on mains without the live LED board caution")


def proof_breaches(bench: Bench, chart: Document) -> Iterator[Breach]:
    """Verdicts end in proofs, the last one closed up, or in no return (invariant 7)."""
    remedies: set[str] = set()
    for name, node in chart["nodes"].items():
        if node["kind"] == "verdict" and node["remedy"] not in remedies:
            remedies.add(node["remedy"])
            yield from _proofs(bench, name, bench.remedies[node["remedy"]])


def _proofs(bench: Bench, name: str, remedy: Document) -> Iterator[Breach]:
    proofs = [bench.proofs[proof] for proof in remedy.get("proofs", ())]
    if not proofs:
        if remedy["kind"] not in UNPROVEN_KINDS:
            yield Breach("AU308", name, f"{remedy['id']!r} is a {remedy['kind']} without a proof")
        return
    if not _closed_up(bench, proofs[-1]):
        yield Breach("AU308", name, f"the last proof {proofs[-1]['id']!r} is not closed up")
    for proof in proofs:
        openings = bench.closure(set(proof.get("opened", ())))
        stand = Stand(openings, proof["supply"], bench.start.rig)
        for breach in (
            *touch_breaches(bench, name, proof, proof["supply"]),
            *stand_breaches(bench, name, stand),
        ):
            yield Breach("AU309", name, breach.what)


def _closed_up(bench: Bench, proof: Document) -> bool:
    """Said to be closed, or on a supply that only closed units see; and nothing opened."""
    is_closed = proof.get("closed", False) or bench.arrangements[proof["supply"]]["closed_only"]
    return bool(is_closed) and not proof.get("opened", ())
