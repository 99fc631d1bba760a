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
    named,
    shown,
)


@dataclass(frozen=True, slots=True)
class Keeping:
    """What is known between two steps: stores measured low, those that could not be measured,
    whether the bench was left (by a repair, or altogether), and the tests that show a short."""

    low: frozenset[str] = frozenset()
    hidden: frozenset[str] = frozenset()
    left: bool = False
    shorts: frozenset[str] = frozenset()


def setup_kept(
    bench: Bench, name: str, step: Document, old: Stand, new: Stand, kept: Keeping
) -> tuple[Keeping, list[Breach]]:
    """After a set-up step, and its breaches."""
    found = list(_settled(bench, name, old, new, kept))
    known = frozenset[str]() if kept.left else kept.low
    measured, hidden, wrong = _measured(bench, name, step)
    found += wrong
    # A store that could not be measured stops the hands there and then, so it is not unmeasured.
    hands = Hands(tuple(step.get("open", ())), measured | hidden, old, new, known | kept.hidden)
    found += hands_breaches(bench, name, hands)
    if hidden and old.rig != new.rig:
        found.append(Breach("AU305", name, f"a rig is changed beside {', '.join(sorted(hidden))}"))
    low = low_after(bench, replace(hands, low=known, measured=measured)) - hidden
    still = (kept.hidden - measured) | hidden
    found += _short(bench, name, new, kept)
    return Keeping(low, still, False, kept.shorts), found


def test_kept(
    bench: Bench, name: str, step: Document, old: Stand, new: Stand, kept: Keeping
) -> tuple[Keeping, list[Breach]]:
    """After a test; a stand it did not come from by a set-up step is taken as made safe."""
    found: list[Breach] = []
    low = kept.low
    if old != new:
        low = frozenset(shown(bench, new.opened))
        low = frozenset() if bench.energy(new.supply) in CHARGING else low
    elif kept.left or kept.hidden:
        found.append(Breach("AU408", name, "a test on a bench that was left, or beside a store "
                                           "that could not be measured"))
    found += bench_breaches(bench, name, new, low, f"test {step['test']!r}")
    found += _short(bench, name, new, kept)
    return replace(answer_kept(bench, step, kept), low=low), found


def answer_kept(bench: Bench, step: Document, kept: Keeping) -> Keeping:
    """After an answer, told or found: the last one of each test counts."""
    told = (step["answer"], *(step.get("shares") or {}))
    short = any(bench.shows_short(step["test"], outcome) for outcome in told)
    others = kept.shorts - {step["test"]}
    return replace(kept, shorts=others | {step["test"]} if short else others)


def left_kept(kept: Keeping) -> Keeping:
    """After a repair, whose proofs happen out of sight, or time away."""
    return replace(kept, low=frozenset(), left=True)


def _settled(
    bench: Bench, name: str, old: Stand, new: Stand, kept: Keeping
) -> Iterator[Breach]:
    made_safe = new == Stand(old.opened, bench.dead, old.rig)
    if kept.left and not made_safe:
        yield Breach("AU408", name, "a bench that was left is not unplugged and measured first")
    if kept.hidden and not made_safe:
        opens = new.opened > old.opened
        if not opens or new.supply != bench.dead or new.rig != old.rig:
            what = f"{', '.join(sorted(kept.hidden))} could not be measured, yet hands go on"
            yield Breach("AU408", name, what)


def _measured(
    bench: Bench, name: str, step: Document
) -> tuple[frozenset[str], frozenset[str], list[Breach]]:
    """The stores found low and those out of reach in a set-up; where a document does not say what
    was read, those it lists are taken as measured."""
    asked, wrong = named(bench, step.get("make_safe") or (), name)
    if "measured" not in step:
        return asked, frozenset(), wrong
    limits = {str(s["part"]): float(s["below"]) for s in bench.document["stores"]}
    low, hidden = set(), set()
    for entry in step["measured"]:
        part = str(entry.get("part"))
        if entry.get("out_of_reach"):
            hidden.add(part)
        elif entry.get("supposed") or abs(float(entry["volts"])) < limits.get(part, 0.0):
            low.add(part)
        else:
            wrong.append(Breach("AU305", name, f"{part!r} was at {entry['volts']} V"))
    for part in asked - low - hidden:
        wrong.append(Breach("AU305", name, f"{part!r} was due and nobody says what it read"))
    return frozenset(low), frozenset(hidden), wrong


def _short(bench: Bench, name: str, stand: Stand, kept: Keeping) -> Iterator[Breach]:
    if kept.shorts and bench.energy(stand.supply) in CHARGING:
        what = f"{stand.supply!r} after a short was found by {', '.join(sorted(kept.shorts))}"
        yield Breach("AU313", name, what)
