"""Getting a probe onto the right part: what that adds to tests and rigs, and the openings it takes.

Whatever is done by hand at a part or point begins with finding it (`engine.deduce.whereabouts`). A
rig that is fitted there finds it once for all that is done in it; a test without such a rig finds
it itself. What only a drawing shows needs the tracing of its stage, which is made like an opening:
once, unplugged, behind whatever shows the stage. It brings nothing new within reach, so no store of
charge is exposed by it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace

from engine.deduce.deduction import Deduction
from engine.deduce.facts import Fact
from engine.model import Model, Opening

TRACING = "tracing"


@dataclass(frozen=True, slots=True)
class Search:
    """What finding something takes: minutes, the tracings it stands behind, and words."""

    minutes: float = 0.0
    behind: tuple[str, ...] = ()
    says: str = ""

    def before(self, how: str) -> str:
        """Words for how something is done, the finding first."""
        return f"{self.says} {how}" if self.says else how


NOTHING = Search()


class Finder:
    """The searches of a deduced unit."""

    def __init__(self, deduction: Deduction) -> None:
        self._knowledge = deduction.knowledge
        self._finds = {(f.text("of"), f.text("at")): f for f in deduction.of("finds")}
        self._rigs = {rig.text("name"): rig for rig in deduction.of("rig")}
        self._traces = deduction.of("traces")

    def of(self, name: str, side: str = "") -> Search:
        """What finding a part or point takes, or a stage's side; nothing for what is no such."""
        found = self._finds.get((name, side))
        if found is None:
            return NOTHING
        behind = (found.text("behind"),) if found.text("behind") else ()
        shown = f"{name} {side}" if side else name
        return Search(found.number("minutes"), behind, f"{shown}: {found.text('where')}.")

    def of_rig(self, rig: str) -> Search:
        """What fitting a rig begins with: nothing where no hands come to the circuit for it."""
        fitted = self._rigs.get(rig)
        if fitted is None:
            return NOTHING
        word = self._knowledge.doings.get(fitted.text("does"))
        if word is None or not word.hands:
            return NOTHING
        on = fitted.text("on")
        return self.of(on) if (on, "") in self._finds else self.of(on, word.side)

    def of_test(self, fields: Mapping[str, object]) -> Search:
        """What the hands look for in a test beyond its rig: nothing where it is only watched."""
        word = self._knowledge.actions.get(str(fields["action"]))
        if (word is not None and word.hands == "never") or fields.get("lead"):
            return NOTHING
        fitted = self._rigs.get(str(fields["rig"]))
        at = str(fields.get("on") or fields.get("point") or "")
        return NOTHING if fitted is not None and fitted.text("on") == at else self.of(at)

    def openings(self, used: Collection[str], cautioned: Mapping[str, tuple[str, ...]]) -> (
        tuple[Opening, ...]
    ):
        """The tracings that any test needs, as openings."""
        return tuple(_opening(f, cautioned) for f in self._traces if f.text("name") in used)


def _opening(found: Fact, cautioned: Mapping[str, tuple[str, ...]]) -> Opening:
    name, behind = found.text("name"), found.text("behind")
    return Opening(
        name, found.number("minutes"), (behind,) if behind else (), found.text("says"),
        found.text("how"), cautioned[name], kind=TRACING, stage=found.text("stage"),
    )  # fmt: skip


def traced(model: Model, stages: Iterable[str]) -> Model:
    """The model of a unit of which there is a drawing of these stages: tracing them costs nothing.

    Everything else stands as it was; a stage that nothing needs traced is left out of account.
    """
    known = frozenset(stages)
    openings = tuple(
        replace(opening, minutes=0.0, says=f"{opening.says} (traced already)", how="")
        if opening.kind == TRACING and opening.stage in known and opening.minutes > 0
        else opening
        for opening in model.openings
    )
    return model if openings == model.openings else replace(model, openings=openings)
