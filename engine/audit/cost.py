"""Minutes, cost, reach and odds of a chart, recomputed from the model document."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping

from engine.audit.arrival import Arrival, nodes_of, stand_after
from engine.audit.bench import Bench, Document, Floats
from engine.audit.breach import DUST, TOLERANCE, Breach, near
from engine.audit.requisites import always_met, lacking

Arrivals = Mapping[str, Arrival]


def cost_breaches(bench: Bench, chart: Document, came: Arrivals) -> Iterator[Breach]:
    """Every number of the chart that does not follow from the model."""
    requirements = always_met(bench, chart)
    for name, node, here in nodes_of(chart, came, "setup"):
        yield from setup_breaches(bench, name, node, here)
    for name, node, here in nodes_of(chart, came, "test"):
        yield from _test(bench, chart, name, node, here)
    for name, node, here in nodes_of(chart, came, "verdict"):
        yield from _verdict(bench, name, node, here, requirements[name])
    yield from _totals(bench, chart, came)


def setup_breaches(bench: Bench, name: str, node: Document, here: Arrival) -> Iterator[Breach]:
    """A set-up by the rule of the document format, that changes something."""
    for standing in here.standings:
        old, new = standing.now, stand_after(node, standing.now)
        if old == new and not node.get("make_safe"):
            yield Breach("AU202", name, "this set-up changes nothing")
        for opening in old.opened & set(node["open"]):
            yield Breach("AU202", name, f"{opening!r} is open already")
        minutes = bench.setup_minutes(old, new)
        if not near(float(node["minutes"]), minutes):
            claim = float(node["minutes"])
            yield Breach("AU201", name, f"says {claim:g} minutes, the rule gives {minutes:g}")


def _test(
    bench: Bench, chart: Document, name: str, node: Document, here: Arrival
) -> Iterator[Breach]:
    if node["test"] in here.done:
        yield Breach("AU108", name, f"test {node['test']!r} was done before on this path")
    yield from state_breaches(bench, name, node, here)
    for outcome, follower in node["branches"].items():
        odds = float((here.weights * bench.odds[node["test"]][outcome]).sum())
        recheck = chart["nodes"][follower]["kind"] == "recheck"
        if recheck and odds > DUST:
            yield Breach("AU109", name, f"{outcome!r} can be, yet leads to a recheck")
        if not recheck and odds == 0.0:
            yield Breach("AU109", name, f"{outcome!r} can't be, yet leads to no recheck")


def state_breaches(bench: Bench, name: str, node: Document, here: Arrival) -> Iterator[Breach]:
    """A test is done in the state it asks for, and one comes there by no detour."""
    test = bench.tests[node["test"]]
    openings = bench.closure(set(test["opened"]))
    for standing in here.standings:
        now = standing.now
        if not openings <= now.opened or (now.supply, now.rig) != (test["supply"], test["rig"]):
            what = f"test {node['test']!r} is done on {now.supply!r}, rig {now.rig!r}, opened "
            yield Breach("AU203", name, what + (", ".join(sorted(now.opened)) or "nothing"))
        direct = bench.setup_minutes(standing.since, now)
        if standing.minutes > direct + TOLERANCE:
            what = f"set-up takes {standing.minutes:g} minutes, {direct:g} are enough"
            yield Breach("AU211", name, what)


def remedy_cost(bench: Bench, remedy: str, weights: Floats) -> float:
    """Minutes of a remedy and of being wrong with it, times the odds of arriving here."""
    reach = float(weights.sum())
    cure = float((weights * bench.cures[remedy]).sum())
    minutes = float(bench.remedies[remedy]["minutes"])
    return reach * minutes + bench.wrong_verdict_minutes * (reach - cure)


def _verdict(
    bench: Bench,
    name: str,
    node: Document,
    here: Arrival,
    requirements: Collection[tuple[str, int]],
) -> Iterator[Breach]:
    reach = float(here.weights.sum())
    if not near(float(node["reach"]), reach):
        yield Breach("AU206", name, f"says reach {node['reach']}, recomputed {reach:.9g}")
    claims = {fault["id"]: float(fault["p"]) for fault in node["faults"]}
    if len(claims) < len(node["faults"]):
        yield Breach("AU205", name, "a fault is listed twice")
    for fault, weight in zip(bench.faults, here.weights, strict=True):
        p = float(weight) / reach if reach > 0 else 0.0
        if fault not in claims:
            if weight > DUST:
                yield Breach("AU204", name, f"{fault!r} arrives here and is not listed")
        elif not near(claims[fault], p):
            yield Breach("AU205", name, f"says {fault!r} p {claims[fault]:g}, recomputed {p:.9g}")
    free = [r for r in bench.remedies if not any(lacking(bench, bench.remedies[r], requirements))]
    for share in here.shares:
        yield from _leaf(bench, name, node["remedy"], share, {node["remedy"], *free})


def _leaf(
    bench: Bench, name: str, remedy: str, share: Floats, free: Collection[str]
) -> Iterator[Breach]:
    """The remedy of least cost for what arrives over one line, of those that may be named."""
    reach = float(share.sum())
    if reach <= DUST:
        return
    cost = remedy_cost(bench, remedy, share) / reach
    best = min(free, key=lambda other: remedy_cost(bench, other, share))
    least = remedy_cost(bench, best, share) / reach
    if cost > least + TOLERANCE:
        what = f"{remedy!r} costs {cost:.6g} minutes here, {best!r} {least:.6g}"
        yield Breach("AU210", name, what)


def expectations(bench: Bench, chart: Document, came: Arrivals) -> tuple[float, float]:
    """Expected minutes of tests and set-ups, and expected cost with remedies, of a chart."""
    minutes = 0.0
    for _, node, here in nodes_of(chart, came, "setup"):
        minutes += float(here.weights.sum()) * float(node["minutes"])
    for _, node, here in nodes_of(chart, came, "test"):
        minutes += float(here.weights.sum()) * float(bench.tests[node["test"]]["minutes"])
    cost = minutes
    for _, node, here in nodes_of(chart, came, "verdict"):
        cost += remedy_cost(bench, node["remedy"], here.weights)
    return minutes, cost


def _totals(bench: Bench, chart: Document, came: Arrivals) -> Iterator[Breach]:
    minutes, cost = expectations(bench, chart, came)
    claims = {
        key: float(chart[key]) for key in ("expected_minutes", "expected_cost", "lower_bound")
    }
    if not near(claims["expected_minutes"], minutes):
        what = f"says {claims['expected_minutes']:.9g} expected minutes, recomputed {minutes:.9g}"
        yield Breach("AU207", "", what)
    if not near(claims["expected_cost"], cost):
        what = f"says expected cost {claims['expected_cost']:.9g}, recomputed {cost:.9g}"
        yield Breach("AU208", "", what)
    if claims["lower_bound"] > cost + TOLERANCE * max(1.0, cost):
        yield Breach("AU209", "", f"lower bound {claims['lower_bound']:g} above cost {cost:g}")
    if chart["proved_optimal"] and not near(claims["lower_bound"], cost):
        yield Breach("AU209", "", f"called optimal with a gap: {claims['lower_bound']:g}, {cost:g}")
    total = sum(float(node["reach"]) for _, node, _ in nodes_of(chart, came, "verdict"))
    if not near(total, 1.0):
        yield Breach("AU206", "", f"the reaches of all verdicts sum to {total:.9g}")
    yield from _endings(bench, chart, came)


def _endings(bench: Bench, chart: Document, came: Arrivals) -> Iterator[Breach]:
    """Every fault that can be ends in verdicts that list it, with all its odds."""
    totals = dict.fromkeys(bench.faults, 0.0)
    for _, node, here in nodes_of(chart, came, "verdict"):
        faults = {fault["id"] for fault in node["faults"]}
        for fault, weight in zip(bench.faults, here.weights, strict=True):
            totals[fault] += float(weight) if fault in faults else 0.0
    for fault, prior in zip(bench.faults, bench.prior, strict=True):
        if not near(totals[fault], float(prior)):
            what = f"{fault!r} ends in verdicts that list it in {totals[fault]:.9g} of {prior:.9g}"
            yield Breach("AU204", "", what)
