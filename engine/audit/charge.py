"""The law of stored charge, stated anew from the documents alone (invariant 3).

A store is unknown until it is measured; mains and hvdc make it unknown again. Once an opening shows
it, it is measured before anything else there is touched, and never before it can be reached. The
maker of charts and walks has the same law in a module of its own, which is not used here.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass

from engine.audit.bench import Bench, Document, Stand
from engine.audit.breach import Breach

CHARGING = ("mains", "hvdc")

DISCHARGED_VOLTS = 30.0
"""The most that may be left on a store (30 V DC, the stricter of IEC 60598-1 cl. 8.2.3)."""


@dataclass(frozen=True, slots=True)
class Hands:
    """A set-up as the law sees it: openings in order, the stores measured after them, the stands
    before and after, and the stores known to be low before."""

    opens: tuple[str, ...]
    measured: frozenset[str]
    old: Stand
    new: Stand
    low: frozenset[str]


def limit_breaches(bench: Bench) -> Iterator[Breach]:
    """Limits and volts of stores that are no numbers, or higher than may be touched."""
    for store in bench.document["stores"]:
        below, most = store["below"], store["max_volts"]
        if not _finite(below) or not 0 < float(below) <= DISCHARGED_VOLTS:
            what = f"{store['part']!r} counts as safe below {below} V, over {DISCHARGED_VOLTS:g} V"
            yield Breach("AU311", "", what)
        if not _finite(most) or float(most) < 0:
            yield Breach("AU311", "", f"{store['part']!r} is said to hold {most} V")


def stores_that_count(bench: Bench) -> Iterator[Document]:
    """The stores that can exceed their limit."""
    for store in bench.document["stores"]:
        if not float(store["max_volts"]) <= float(store["below"]):
            yield store


def is_open(bench: Bench, openings: Collection[str]) -> bool:
    """Whether the unit itself is opened, not merely looked over."""
    return any(bench.openings[opening].get("inside", True) for opening in openings)


def stores_in_reach(bench: Bench, openings: Collection[str]) -> dict[str, Document]:
    """The stores whose terminals are within reach, by part."""
    stores = {}
    for store in stores_that_count(bench):
        ways = store.get("exposed_by")
        if is_open(bench, openings) if ways is None else (not ways or set(ways) & set(openings)):
            stores[str(store["part"])] = store
    return stores


def low_after(bench: Bench, hands: Hands) -> frozenset[str]:
    """The stores known to be low after a set-up."""
    if bench.energy(hands.new.supply) in CHARGING:
        return frozenset()
    return _still_low(bench, hands) | hands.measured


def hands_breaches(bench: Bench, name: str, hands: Hands) -> Iterator[Breach]:
    """A set-up that reaches in beside a store that nobody measured, or measures what is hidden."""
    hands_on = bench.touches(hands.old, hands.new)
    if hands_on and hands.new.supply != bench.dead:
        yield Breach("AU304", name, f"hands go in on the way to {hands.new.supply!r}")
    low, openings = _still_low(bench, hands), set(hands.old.opened)
    if hands.old.supply == bench.dead != hands.new.supply:
        for part in stores_in_reach(bench, hands.old.opened).keys() - low:
            yield Breach("AU305", name, f"{part!r} is within reach and not measured when left")
    for opening in hands.opens:
        for part in stores_in_reach(bench, openings).keys() - low:
            what = f"{part!r} is within reach and not measured when {opening!r} is made"
            yield Breach("AU305", name, what)
        openings.add(opening)
    in_reach = stores_in_reach(bench, hands.new.opened)
    if hands.new.supply == bench.dead:
        for part in in_reach.keys() - low - hands.measured:
            yield Breach("AU305", name, _measure_words(in_reach[part]))
    for part in hands.measured - in_reach.keys():
        yield Breach("AU312", name, f"{part!r} is asked for where nobody can reach it")
    if hands.measured and hands.new.supply != bench.dead:
        yield Breach("AU312", name, f"stores are asked for at {hands.new.supply!r}")


def bench_breaches(
    bench: Bench, name: str, stand: Stand, low: frozenset[str], doing: str
) -> Iterator[Breach]:
    """Something is done on a bench that hands may touch, with a store beside it unknown."""
    if bench.energy(stand.supply) in CHARGING:
        return
    for part, store in stores_in_reach(bench, stand.opened).items():
        if part not in low:
            yield Breach("AU305", name, f"{doing}: {_measure_words(store)}")


def stores_named(
    bench: Bench, points: Iterable[Document], name: str
) -> tuple[frozenset[str], list[Breach]]:
    """The parts of a make-safe list, and entries that name no store or keep too high a limit."""
    parts, wrong = set(), []
    for entry in points:
        store = _store_of(bench, entry)
        has_limit = entry.get("unit") == "V" and _finite(entry.get("below"))
        if store is None:
            wrong.append(Breach("AU312", name, f"{entry.get('point')!r} is no store of the model"))
        elif not has_limit or float(entry["below"]) > float(store["below"]):
            wrong.append(Breach("AU305", name, _measure_words(store)))
        else:
            parts.add(str(store["part"]))
    return frozenset(parts), wrong


def end_breaches(
    bench: Bench,
    name: str,
    node: Document,
    stands: Iterable[tuple[Stand, frozenset[str]]],
    reaches_in: bool,
) -> Iterator[Breach]:
    """At an end, what is due is measured and what a repair comes upon is named with its opening."""
    due, wrong = stores_named(bench, node.get("make_safe") or (), name)
    yield from wrong
    _, wrong = stores_named(bench, node.get("opening_up") or (), name)
    yield from wrong
    places = {str(e.get("part")): str(e.get("opening")) for e in node.get("opening_up") or ()}
    demands: set[str] = set()
    for stand, low in stands:
        low_here = frozenset[str]() if bench.energy(stand.supply) in CHARGING else low
        in_reach = stores_in_reach(bench, stand.opened)
        if reaches_in or is_open(bench, stand.opened):
            demands |= in_reach.keys() - low_here
        if reaches_in:
            yield from _ahead_breaches(bench, name, in_reach, low_here, places)
    for part in sorted(demands - due):
        yield Breach("AU305", name, f"{part!r} is within reach and not measured at the end")
    for part in sorted(due - demands):
        yield Breach("AU312", name, f"{part!r} is asked for where nobody can reach it")


def _ahead_breaches(
    bench: Bench,
    name: str,
    in_reach: Collection[str],
    low: frozenset[str],
    places: dict[str, str],
) -> Iterator[Breach]:
    for store in stores_that_count(bench):
        part, ways = str(store["part"]), store.get("exposed_by")
        if part in in_reach or part in low:
            continue
        showing = set(bench.openings) if ways is None else set(ways)
        if showing and places.get(part) not in showing:
            yield Breach("AU305", name, f"the repair comes upon {part!r}, which is not said")


def _still_low(bench: Bench, hands: Hands) -> frozenset[str]:
    return frozenset() if bench.energy(hands.old.supply) in CHARGING else hands.low


def _store_of(bench: Bench, entry: Document) -> Document | None:
    for store in bench.document["stores"]:
        same = entry.get("part", store["part"]) == store["part"]
        if same and entry.get("point") == store["point"]:
            return store  # type: ignore[no-any-return]
    return None


def _measure_words(store: Document) -> str:
    return f"{store['part']!r} is not measured below {store['below']:g} V at {store['point']!r}"


def _finite(value: object) -> bool:
    usable = isinstance(value, (int, float)) and not isinstance(value, bool)
    return usable and math.isfinite(value)  # type: ignore[arg-type]
