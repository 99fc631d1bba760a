"""What a walk document tells of its stores of charge and of shorts, step by step."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from engine.audit.bench import Bench, Document, Stand
from engine.audit.breach import Breach
from engine.audit.charge import (
    CHARGING,
    Hands,
    bench_breaches,
    hands_breaches,
    low_after,
    stores_in_reach,
    stores_named,
)


@dataclass(frozen=True, slots=True)
class Keeping:
    """What is known between two steps: stores measured low, those that could not be measured,
    whether the bench was left (by a repair, or altogether), and the tests that show a short."""

    low: frozenset[str] = frozenset()
    out_of_reach: frozenset[str] = frozenset()
    left: bool = False
    shorts: frozenset[str] = frozenset()


def setup_kept(
    bench: Bench, name: str, step: Document, old: Stand, new: Stand, before: Keeping
) -> tuple[Keeping, list[Breach]]:
    """After a set-up step, and its breaches."""
    breaches = list(_left_breaches(bench, name, old, new, before))
    known_low = frozenset[str]() if before.left else before.low
    stores, out_of_reach, wrong = _measures(bench, name, step)
    breaches += wrong
    # A store that could not be measured stops the hands there and then, so it is not unmeasured.
    hands = Hands(
        tuple(step.get("open", ())),
        stores | out_of_reach,
        old,
        new,
        known_low | before.out_of_reach,
    )
    breaches += hands_breaches(bench, name, hands)
    if out_of_reach and old.rig != new.rig:
        what = f"a rig is changed beside {', '.join(sorted(out_of_reach))}"
        breaches.append(Breach("AU305", name, what))
    low = low_after(bench, replace(hands, low=known_low, measured=stores)) - out_of_reach
    still = (before.out_of_reach - stores) | out_of_reach
    breaches += _short_breaches(bench, name, new, before)
    return Keeping(low, still, False, before.shorts), breaches


def test_kept(
    bench: Bench, name: str, step: Document, old: Stand, new: Stand, before: Keeping
) -> tuple[Keeping, list[Breach]]:
    """After a test; a stand it did not come from by a set-up step is taken as made safe."""
    breaches: list[Breach] = []
    low = before.low
    if old != new:
        low = frozenset(stores_in_reach(bench, new.opened))
        low = frozenset() if bench.energy(new.supply) in CHARGING else low
    elif before.left or before.out_of_reach:
        what = "a test on a bench that was left, or beside a store that could not be measured"
        breaches.append(Breach("AU408", name, what))
    breaches += bench_breaches(bench, name, new, low, f"test {step['test']!r}")
    breaches += _short_breaches(bench, name, new, before)
    return replace(answer_kept(bench, step, before), low=low), breaches


def answer_kept(bench: Bench, step: Document, before: Keeping) -> Keeping:
    """After an answer, told or found: the last one of each test counts."""
    outcomes = (step["answer"], *(step.get("shares") or {}))
    short = any(bench.shows_short(step["test"], outcome) for outcome in outcomes)
    others = before.shorts - {step["test"]}
    return replace(before, shorts=others | {step["test"]} if short else others)


def left_kept(before: Keeping) -> Keeping:
    """After a repair, whose proofs happen out of sight, or time away."""
    return replace(before, low=frozenset(), left=True)


def _left_breaches(
    bench: Bench, name: str, old: Stand, new: Stand, before: Keeping
) -> Iterator[Breach]:
    made_safe = new == Stand(old.opened, bench.dead, old.rig)
    if before.left and not made_safe:
        yield Breach("AU408", name, "a bench that was left is not unplugged and measured first")
    if before.out_of_reach and not made_safe:
        opens = new.opened > old.opened
        if not opens or new.supply != bench.dead or new.rig != old.rig:
            what = (
                f"{', '.join(sorted(before.out_of_reach))} could not be measured, yet hands go on"
            )
            yield Breach("AU408", name, what)


def _measures(
    bench: Bench, name: str, step: Document
) -> tuple[frozenset[str], frozenset[str], list[Breach]]:
    """The stores found low and those out of reach in a set-up; where a document does not say what
    was read, those it lists are taken as measured."""
    parts, wrong = stores_named(bench, step.get("make_safe") or (), name)
    if "measured" not in step:
        return parts, frozenset(), wrong
    limits = {str(s["part"]): float(s["below"]) for s in bench.document["stores"]}
    low, out_of_reach = set(), set()
    for entry in step["measured"]:
        part = str(entry.get("part"))
        if entry.get("out_of_reach"):
            out_of_reach.add(part)
        elif entry.get("supposed") or abs(float(entry["volts"])) < limits.get(part, 0.0):
            low.add(part)
        else:
            wrong.append(Breach("AU305", name, f"{part!r} was at {entry['volts']} V"))
    for part in parts - low - out_of_reach:
        wrong.append(Breach("AU305", name, f"{part!r} was due and nobody says what it read"))
    return frozenset(low), frozenset(out_of_reach), wrong


def _short_breaches(bench: Bench, name: str, stand: Stand, before: Keeping) -> Iterator[Breach]:
    if before.shorts and bench.energy(stand.supply) in CHARGING:
        what = f"{stand.supply!r} after a short was found by {', '.join(sorted(before.shorts))}"
        yield Breach("AU313", name, what)
