"""What hands reach: stores of charge with the openings that show them, and steps done by hand.

Whether a step brings hands to the circuit follows from the word for what is done and from where it
is done. A rule can say that it does where the word leaves it open, never the other way round.
"""

from __future__ import annotations

from collections import defaultdict

from engine.deduce import anatomy, offers
from engine.deduce.deduction import Deduction
from engine.model.absence import NO_RIG
from engine.model.records import Store
from kb.language.knowledge import Knowledge


def stores(deduction: Deduction) -> tuple[Store, ...]:
    """Each part that can stay charged, by the gravest claim, with the openings that show it."""
    below = deduction.knowledge.numbers["touch-volts"].value
    openings: defaultdict[str, tuple[str, ...]] = defaultdict(tuple)
    for showing in deduction.all(anatomy.Showing):
        openings[showing.of_what] += (showing.behind,)
    point = {holding.part: holding.point for holding in deduction.all(anatomy.Holding)}
    gravest: dict[str, offers.Store] = {}
    for store in deduction.all(offers.Store):
        other = gravest.setdefault(store.part, store)
        if store.max_volts > other.max_volts:
            gravest[store.part] = store
    return tuple(
        Store(
            part, store.max_volts, point.get(part, store.point), below,
            () if "" in openings[part] else openings[part],
        )
        for part, store in gravest.items()
    )  # fmt: skip


def test_by_hand(knowledge: Knowledge, test: offers.Test) -> bool:
    """Whether what is done in a test brings hands to the circuit; an unknown word does."""
    word = knowledge.actions.get(test.action)
    if word is None or word.hands == "always":
        return True
    return word.hands == "unless-rigged" and test.rig == NO_RIG


def rig_by_hand(knowledge: Knowledge, rig: offers.Rig, inside: bool) -> bool:
    """Whether a rig is fitted by hand to the circuit; `inside` an opened unit every one is."""
    word = knowledge.doings.get(rig.does)
    return word is None or word.hands or inside or rig.hands_on
