"""A comparison as sections of plain sentences, which text, Markdown and HTML only dress."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from engine.studies.comparison import Change, Effect, Move

_LONGEST = 100
_MOST = 12


@dataclass(frozen=True, slots=True)
class Section:
    """A heading, what stands under it, and a table (head first) where there is one."""

    title: str
    lines: tuple[str, ...] = ()
    table: tuple[tuple[str, ...], ...] = ()
    effect: Effect | None = None


def sections(differences: Sequence[Change], effects: Sequence[Effect]) -> Iterator[Section]:
    """Safety first, then what the change does, then the entries behind it."""
    yield Section("Safety", tuple(_safety(differences, effects)))
    yield Section("Plans", (), tuple(_plans(effects)))
    for effect in effects:
        if not effect.nothing:
            yield Section(
                f"{effect.topology}, to the {effect.depth}", tuple(_effect(effect)), (), effect
            )
    for section in dict.fromkeys(change.section for change in differences):
        changes = [change for change in differences if change.section == section]
        kinds = Counter(change.kind for change in changes)
        count = ", ".join(f"{number} {kind}" for kind, number in kinds.items())
        yield Section(f"{section}: {count}", tuple(_entry(change) for change in changes))


def _safety(differences: Sequence[Change], effects: Sequence[Effect]) -> Iterator[str]:
    guarding = [change for change in differences if change.safety]
    for change in guarding:
        yield f"{change.kind}: {change.safety} ({_entry(change)})"
    losses: dict[tuple[str, str], list[str]] = {}
    for effect in effects:
        for step, caution in effect.lost_cautions:
            losses.setdefault((effect.topology, caution), []).append(step)
    for (topology, caution), steps in losses.items():
        several = ", ".join(dict.fromkeys(steps))
        yield f"ALIKE in {topology}: the caution {caution} no longer stands at {several}"
    if not guarding and not losses:
        yield "No safeguard changes: no caution, supply, entry question or safety rule, at no step."


def _plans(effects: Sequence[Effect]) -> Iterator[tuple[str, ...]]:
    yield (
        "unit", "depth", "minutes before", "after", "cost before", "after", "first step before",
        "after",
    )  # fmt: skip
    for effect in effects:
        before = _figures(effect, "old")
        after = _figures(effect, "new")
        yield (
            effect.topology, effect.depth, before[0], after[0], before[1], after[1],
            before[2], after[2] if after[2] != before[2] else "the same",
        )  # fmt: skip


def _figures(effect: Effect, which: str) -> tuple[str, str, str]:
    side = effect.old if which == "old" else effect.new
    if side is None:
        return ("none", "none", "none")
    proof = side.plan.proof
    mark = "" if proof.proved_optimal else " *"
    node = side.plan.nodes[side.plan.root]
    first = getattr(node, "test", None) or getattr(node, "remedy", "")
    return (f"{proof.expected_minutes:.2f}", f"{proof.expected_cost:.2f}{mark}", str(first))


def _effect(effect: Effect) -> Iterator[str]:
    for trouble in effect.troubles:
        yield f"The new knowledge can't be used for it: {trouble}"
    for what in dict.fromkeys(_sort(shift) for shift in effect.moved):
        several = [shift for shift in effect.moved if _sort(shift) == what]
        for shift in several[:_MOST]:
            yield _sentence(shift)
        if len(several) > _MOST:
            yield f"and {len(several) - _MOST} more of this sort ({what})"
    for step, caution in effect.lost_cautions:
        yield f"ALIKE: the caution {caution} at {step}"


def _sort(shift: Move) -> str:
    """The first word of what moved: aspects of different tests are of one sort."""
    return shift.what.partition(" ")[0]


def _sentence(shift: Move) -> str:
    name = f"{shift.what} {shift.name}".strip()
    if not shift.before:
        return f"{name} is new: {_short(shift.after)}"
    if not shift.after:
        return f"{name} is gone"
    return f"{name}: {_short(shift.before)} → {_short(shift.after)}"


def _entry(change: Change) -> str:
    words = f"{change.name} {change.kind}"
    differs = [f"{path}: {_short(old)} → {_short(new)}" for path, old, new in change.words[:4]]
    if len(change.words) > 4:
        differs.append(f"and {len(change.words) - 4} more")
    return f"{words}; {'; '.join(differs)}" if differs else words


def _short(text: str) -> str:
    return text if len(text) <= _LONGEST else text[: _LONGEST - 1].rstrip() + "…"
