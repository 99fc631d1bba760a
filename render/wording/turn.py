"""What the hands do in one set-up, and in which order: for paper, page and terminal alike.

To the dead bench: switch off and unplug, open, measure what came into reach, and only then touch
rigs. To a live one: open, measure, then rigs, the supply last.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

from engine.model.plan import State
from render.wording import leads
from render.wording.leads import Access
from render.wording.script import Document

_Words = TypeVar("_Words")


@dataclass(frozen=True, slots=True)
class Turn:
    """What changes where a bench that stands in one of several ways is set up.

    `supply` tells whether the supply changes, `accesses` what is opened or brought out, `off` the
    rigs that come off by id, `fit` the rig that is fitted, empty where none; `dead` whether nothing
    feeds the bench after it; `idle` whether nothing is done but to see that all stands so.
    """

    supply: bool
    accesses: tuple[Access, ...]
    off: tuple[str, ...]
    fit: str
    dead: bool
    idle: bool = False

    @classmethod
    def of(cls, model: Document, node: Document, stands: Collection[State]) -> Turn:
        """The turn of a set-up node that one comes to with the bench standing in those ways;
        `model` is the model document."""
        openings = {opening["id"]: opening for opening in model["openings"]}
        energies = {one["id"]: one["energy"] for one in model["supply"]["arrangements"]}
        turn = cls.between(
            [openings.get(name, {"id": name}) for name in node["open"]],
            stands,
            State(frozenset(), node["supply"], node["rig"]),
            bare=model["start"]["rig"],
            dead=energies[node["supply"]] == "none",
        )
        nothing = not (turn.supply or turn.accesses or turn.off or turn.fit)
        return cls(
            turn.supply, turn.accesses, turn.off, turn.fit, turn.dead,
            nothing and not node.get("make_safe"),
        )  # fmt: skip

    @classmethod
    def between(
        cls,
        openings: Sequence[Mapping[str, str]],
        stands: Collection[State],
        then: State,
        *,
        bare: str,
        dead: bool,
    ) -> Turn:
        """The turn from those ways of standing to `then` with those openings made; `bare` is the
        rig that is none."""
        rigs = {state.rig for state in stands}
        return cls(
            supply=any(state.supply != then.supply for state in stands),
            accesses=leads.accesses(openings),
            off=tuple(sorted(rigs - {then.rig, bare})),
            fit=then.rig if then.rig != bare and rigs - {then.rig} else "",
            dead=dead,
        )

    def in_order(
        self, *, supply: Sequence[_Words], opening: Sequence[_Words], rigging: Sequence[_Words]
    ) -> tuple[tuple[_Words, ...], tuple[_Words, ...]]:
        """The words of what changes in the order of the hands: before stores are measured, after.

        What is opened comes before measuring, for a closed unit's stores are out of reach.
        """
        if self.dead:
            return (*supply, *opening), tuple(rigging)
        return tuple(opening), (*rigging, *supply)
