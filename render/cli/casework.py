"""From a case of a shop to what the commands work with: its brief, its model, its keeping."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from engine.cases.mishaps import trouble
from engine.cases.sitting import Sitting
from engine.model.records import Model
from engine.walk import events
from engine.walk.record import SavedWalk
from render.cli import briefing, knowledge
from render.cli.briefing import Brief
from render.cli.keeping import CaseKeeping, Keeping
from render.cli.likeness import nearest
from render.cli.options import Depth, Mains

if TYPE_CHECKING:
    from engine.cases.records import Case, Closing
    from engine.cases.shop import Shop

MENDED = "mended"
"""The outcome of a unit that works and has passed its proofs."""


def fetch(shop: Shop, number: int | None) -> Case:
    """The case of that number; without one the last that is not closed. TroubleError CS111."""
    key = shop.last() if number is None else number
    if key is None:
        raise trouble(
            "CS111", shop.name, "there is no case that is not closed",
            "Begin one with nextprobe walk, or name a closed one by its number",
        )  # fmt: skip
    return shop.case(key)


def brief_of(case: Case, shop: Shop, seconds: float = 1.0) -> Brief:
    """What the case's walk was begun with, and its events to go on with. TroubleError CS113 for a
    closed case, WK101 for an event that is none."""
    if case.state == "closed":
        raise trouble(
            "CS113", f"case {case.number}", f"it was closed by {case.closed_by}, {case.closed_at}",
            f"nextprobe close {case.number} --reopen opens it again",
        )  # fmt: skip
    return _brief(case, shop, seconds)


def model_of(case: Case, shop: Shop) -> Model:
    """The model that the case is about, as today's knowledge makes it."""
    brief = _brief(case, shop, 1.0)
    return knowledge.either(
        brief.topology, brief.model, brief.mains, brief.depth, brief.complaint, brief.kb,
        brief.without, brief.values, brief.having, brief.traced,
    )  # fmt: skip


def closing_of(case: Case, model: Model | None, closing: Closing) -> Closing:
    """The closing, if it can be one of the case: TroubleError CS116 for a fault that the model does
    not have, CS118 for a mended unit that failed a proof."""
    ids = {fault.id for fault in model.faults} if model else set()
    for name in closing.faults:
        if name not in ids:
            raise trouble(
                "CS116", "command line", f'there is no fault "{name}" in this unit',
                nearest(name, ids) or "nextprobe model lists them",
            )  # fmt: skip
    if closing.outcome == MENDED and not all(proof.passed for proof in closing.proofs):
        raise trouble(
            "CS118", f"case {case.number}", "a unit that fails a proof is not mended",
            "Mend it and prove it again, or close the case as unmended or scrapped",
        )  # fmt: skip
    return closing


def going_on(shop: Shop, case: Case, shop_option: str) -> Callable[[str], Keeping]:
    """What keeps the walk of a case that is gone on with."""
    return lambda topology: CaseKeeping(shop, shop_option, Sitting.go_on(shop, case))


def _brief(case: Case, shop: Shop, seconds: float) -> Brief:
    place = f"case {case.number} in {shop.name}"
    standing = case.standing
    saved = SavedWalk(
        topology=case.intake.topology, options=standing.options, entry=standing.entry,
        events=tuple(events.read(body, place) for body in standing.events),
        model_sha256=standing.model_sha256, knowledge=standing.knowledge,
    )  # fmt: skip
    empty = Brief(
        topology=None, mains=Mains.EUROPE, depth=Depth.PART, complaint=None, kb=None, without=(),
        model=None, seconds=seconds, unit=case.intake.unit, words=case.intake.words,
    )  # fmt: skip
    return briefing.as_begun(empty, saved, place)
