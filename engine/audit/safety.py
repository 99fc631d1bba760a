"""The safety invariants that documents show, over every path of a chart."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from engine.audit.arrival import Arrival, nodes_of, stand_after
from engine.audit.bench import Bench, Document, Stand
from engine.audit.breach import Breach

TOUCH_VOLTS = 60.0
"""Bare parts above 60 V DC are not touched (IEC 60598-1 cl. 8.2.3 after IEC 60364-4-41)."""

LIVE_LED_BOARD = "live-led-board"
"""The hazard of an opened, mains-referenced, energised unit."""

UNPROVEN_KINDS = ("outside", "none", "scrap", "salvage", "refuse")
"""Remedies after which nothing of ours goes back into use."""


def supply_breaches(bench: Bench) -> Iterator[Breach]:
    """Arrangements that let hands touch what they must not (invariant 1)."""
    for name, arrangement in bench.arrangements.items():
        energy, volts = arrangement["energy"], float(arrangement["max_volts"])
        if energy in ("mains", "hvdc") and arrangement["hands_on"]:
            yield Breach("AU302", "", f"{name!r} is {energy}, yet hands may touch")
        if energy == "elv" and volts > TOUCH_VOLTS:
            yield Breach("AU302", "", f"{name!r} is called elv at {volts:g} V")


def safety_breaches(bench: Bench, chart: Document, came: Mapping[str, Arrival]) -> Iterator[Breach]:
    """Breaches at set-ups, tests and verdicts (invariants 1, 2, 3, 6)."""
    for name, node, here in nodes_of(chart, came, "setup"):
        for standing in here.standings:
            yield from _step_cautions(name, node, _setup_cautions(bench, node, standing.now))
            new = stand_after(node, standing.now)
            yield from change_breaches(bench, name, standing.now, new)
            yield from made_safe_breaches(bench, name, node, standing.now)
            yield from stand_breaches(bench, name, new)
    for name, node, here in nodes_of(chart, came, "test"):
        yield from _test(bench, name, node, here)
    for name, node, here in nodes_of(chart, came, "verdict"):
        cautions = bench.remedies[node["remedy"]].get("cautions", ())
        yield from _step_cautions(name, node, cautions)
        if "make_safe" in node:
            for standing in here.standings:
                yield from _stores_measured(bench, name, node, standing.now)


def change_breaches(bench: Bench, name: str, old: Stand, new: Stand) -> Iterator[Breach]:
    """Hands and energised arrangements meet only by way of the dead one (invariants 1, 3)."""
    energised = bench.dead not in (old.supply, new.supply)
    if energised and (bench.touches(old, new) or old.supply != new.supply):
        what = f"from {old.supply!r} to {new.supply!r} not by way of {bench.dead!r}"
        yield Breach("AU304", name, what)


def stand_breaches(bench: Bench, name: str, stand: Stand) -> Iterator[Breach]:
    """An opened unit sees no closed-only supply (invariant 2); openings came in order."""
    if missing := bench.needed(stand.opened) - stand.opened:
        yield Breach("AU310", name, f"opened before {', '.join(sorted(missing))}")
    if stand.opened and bench.arrangements[stand.supply]["closed_only"]:
        yield Breach("AU303", name, f"opened unit on {stand.supply!r}, for closed units only")


def touch_breaches(bench: Bench, name: str, step: Document, supply: str) -> Iterator[Breach]:
    """Hands-on only where hands may touch (invariant 1)."""
    arrangement = bench.arrangements[supply]
    barred = not arrangement["hands_on"] or arrangement["energy"] in ("mains", "hvdc")
    if step.get("hands_on", False) and barred:
        yield Breach("AU301", name, f"{step['id']!r} is hands-on, on {supply!r}")


def made_safe_breaches(bench: Bench, name: str, node: Document, old: Stand) -> Iterator[Breach]:
    """Leaving mains or hvdc, every store that can exceed its limit is measured (invariant 3)."""
    if node["supply"] == bench.dead:
        yield from _stores_measured(bench, name, node, old)


def _stores_measured(bench: Bench, name: str, node: Document, old: Stand) -> Iterator[Breach]:
    if bench.energy(old.supply) in ("mains", "hvdc"):
        yield from stores_measured(bench, name, node)


def stores_measured(bench: Bench, name: str, node: Document) -> Iterator[Breach]:
    """Every store that can exceed its limit is measured in this step, whatever came before."""
    for store in bench.document["stores"]:
        if store["max_volts"] > store["below"] and not _measured(node["make_safe"], store):
            what = f"{store['part']!r} is not measured below {store['below']:g} V at "
            yield Breach("AU305", name, what + repr(store["point"]))


def _measured(make_safe: Iterable[Document], store: Document) -> bool:
    return any(
        entry.get("point") == store["point"]
        and entry.get("unit") == "V"
        and float(entry.get("below", "inf")) <= float(store["below"])
        for entry in make_safe
    )


def _setup_cautions(bench: Bench, node: Document, old: Stand) -> Iterator[str]:
    """What the openings, the new supply and the new rig of a set-up warn of themselves."""
    steps = [bench.openings[opening] for opening in node["open"]]
    if node["supply"] != old.supply:
        steps.append(bench.arrangements[node["supply"]])
    if node["rig"] != old.rig:
        steps.append(bench.rigs[node["rig"]])
    for step in steps:
        yield from step.get("cautions", ())


def _step_cautions(name: str, node: Document, wanted: Iterable[str]) -> Iterator[Breach]:
    for caution in wanted:
        if caution not in node["cautions"]:
            yield Breach("AU306", name, f"the step's own caution {caution!r} is missing")


def _test(bench: Bench, name: str, node: Document, here: Arrival) -> Iterator[Breach]:
    test = bench.tests[node["test"]]
    yield from _step_cautions(name, node, test.get("cautions", ()))
    warned = {bench.cautions[caution]["hazard"] for caution in node["cautions"]}
    for hazard in test.get("hazards", ()):
        if hazard not in warned:
            yield Breach("AU306", name, f"no caution of hazard {hazard!r} at the step")
    for standing in here.standings:
        stand = standing.now
        yield from touch_breaches(bench, name, test, stand.supply)
        yield from stand_breaches(bench, name, stand)
        known = any(c["hazard"] == LIVE_LED_BOARD for c in bench.cautions.values())
        live = bool(stand.opened) and bench.energy(stand.supply) == "mains"
        if known and live and LIVE_LED_BOARD not in warned:
            yield Breach("AU307", name, "opened on mains without the live LED board caution")


def proof_breaches(bench: Bench, chart: Document) -> Iterator[Breach]:
    """Verdicts end in proofs, the last one closed up, or in no return (invariant 7)."""
    seen: set[str] = set()
    for name, node in chart["nodes"].items():
        if node["kind"] == "verdict" and node["remedy"] not in seen:
            seen.add(node["remedy"])
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
        opened = bench.needed(set(proof.get("opened", ())))
        stand = Stand(opened, proof["supply"], bench.start.rig)
        for breach in (
            *touch_breaches(bench, name, proof, proof["supply"]),
            *stand_breaches(bench, name, stand),
        ):
            yield Breach("AU309", name, breach.what)


def _closed_up(bench: Bench, proof: Document) -> bool:
    """Said to be closed, or on a supply that only closed units see; and nothing opened."""
    closed = proof.get("closed", False) or bench.arrangements[proof["supply"]]["closed_only"]
    return bool(closed) and not proof.get("opened", ())
