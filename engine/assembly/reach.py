"""What hands reach: stores of charge with the openings that show them, and steps done by hand.

Whether a step brings hands to the circuit follows from the word for what is done and from where it
is done. A rule can say that it does where the word leaves it open, never the other way round.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping

from engine.deduce.deduction import Deduction
from engine.deduce.facts import Fact
from engine.model.absence import NO_RIG
from engine.model.records import Store
from kb.language.knowledge import Knowledge


def stores(deduction: Deduction) -> tuple[Store, ...]:
    """Each part that can stay charged, by the gravest claim, with the openings that show it."""
    below = deduction.knowledge.numbers["touch-volts"].value
    openings: defaultdict[str, tuple[str, ...]] = defaultdict(tuple)
    for view in deduction.of("shows"):
        openings[view.text("of")] += (view.text("behind"),)
    point = {holding.text("part"): holding.text("point") for holding in deduction.of("holds")}
    gravest: dict[str, Fact] = {}
    for store in deduction.of("store"):
        other = gravest.setdefault(store.text("part"), store)
        if store.number("max_volts") > other.number("max_volts"):
            gravest[store.text("part")] = store
    return tuple(
        Store(
            part, store.number("max_volts"), point.get(part, store.text("point")), below,
            () if "" in openings[part] else openings[part],
        )
        for part, store in gravest.items()
    )  # fmt: skip


def test_by_hand(knowledge: Knowledge, test: Mapping[str, object]) -> bool:
    """Whether what is done in a test brings hands to the circuit; an unknown word does."""
    word = knowledge.actions.get(str(test["action"]))
    if word is None or word.hands == "always":
        return True
    return word.hands == "unless-rigged" and test["rig"] == NO_RIG


def rig_by_hand(knowledge: Knowledge, rig: Mapping[str, object], inside: bool) -> bool:
    """Whether a rig is fitted by hand to the circuit; `inside` an opened unit every one is."""
    word = knowledge.doings.get(str(rig["does"]))
    return word is None or word.hands or inside or bool(rig["hands_on"])
