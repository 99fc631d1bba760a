"""Supposed faults: of a part, of nothing that is listed, and of parts that took others along.

A survey's facts give the single ones; what a supposed fault brings gives joint ones, whose facts
stand beside those of the single ones when all is concluded.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from engine.deduce import anatomy
from engine.deduce.facts import Fact, FieldError, Findings, fact
from engine.deduce.suppose import Supposal
from engine.model.absence import NO_LIGHT, NO_PART, NO_STAGE

OTHER = "other"
"""What is not listed, as one fault; what else is not listed is a variant of it."""
_MOST_TAKEN_ALONG = 0.95
"""All that a short takes along is at most this share of it, so that it can always stand alone: no
rule of the trade makes a second loss certain. Our choice."""


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """A supposed fault. `brought` names its parts where the first one's short or surge took the
    next along, and that, perhaps, a third."""

    id: str
    stage: str
    parts: tuple[tuple[str, str], ...]
    acts: tuple[tuple[str, str], ...]
    share: float
    says: str
    variant_of: str | None = None
    unlisted: str = ""
    brought: tuple[str, ...] | None = None

    @property
    def supposal(self) -> Supposal:
        """How its parts act."""
        return Supposal(self.id, self.acts, self.unlisted)


def singles(survey: Findings) -> list[Hypothesis]:
    """The faults that the survey found, each by itself, in order. Shares are weights: only their
    ratios within a family count. FieldError for a fault of a part or mode that the unit lacks."""
    modes = {(mode.part, mode.name): mode for mode in survey.all(anatomy.Mode)}
    parts = {part.name: part for part in survey.all(anatomy.Part)}
    hypotheses: list[Hypothesis] = []
    for fault in survey.all(anatomy.Fault):
        name, part = fault.name, fault.part
        if part == NO_PART:
            hypotheses.append(_of_no_part(fault))
            continue
        mode, record = modes.get((part, name.removeprefix(f"{part}-"))), parts.get(part)
        if mode is None or record is None:
            own = part if part in parts else next(iter(parts), "")
            example = next((f"{p}-{m}" for p, m in modes if p == own), "")
            why = "of a part and mode that the unit has not"
            raise FieldError(fault.fact, "name", why + (f"; '{example}' is one" if example else ""))
        hypotheses.append(
            Hypothesis(
                name,
                fault.stage,
                ((part, mode.name),),
                ((part, fault.acts),),
                record.proneness * record.count * mode.share,
                f"{record.says}: {mode.says}",
                f"{part}-{mode.parent}" if mode.parent else None,
            )
        )
    return hypotheses


def _of_no_part(fault: anatomy.Fault) -> Hypothesis:
    """A fault of no part: nothing at all, or what is not listed."""
    light = ""
    if fault.acts == "unlisted":
        light = NO_LIGHT if fault.light is None else fault.light
    says = "something that is not listed" if light else "no fault found"
    return Hypothesis(
        fault.name, NO_STAGE, (), (), 1.0 if fault.share is None else fault.share,
        says if fault.says is None else fault.says,
        OTHER if light and fault.name != OTHER else None, unlisted=light,
    )  # fmt: skip


def taken_along(
    cause: Hypothesis, consequences: Iterable[anatomy.Consequence], single: Iterable[Hypothesis]
) -> list[Hypothesis]:
    """The joint hypotheses of a cause and each part that it takes along; none for what takes a part
    of its own, or one without a single hypothesis. Their shares come out of the cause's."""
    joint: list[Hypothesis] = []
    for consequence in consequences:
        part = consequence.part
        if not cause.acts or part in dict(cause.acts):
            continue
        second = next((h for h in single if h.acts and h.acts[0][0] == part), None)
        if second is None:
            continue
        label = second.says.partition(":")[0]
        joint.append(
            Hypothesis(
                f"{cause.id}-took-{part}",
                cause.stage,
                (*cause.parts, (part, consequence.mode)),
                (*cause.acts, (part, consequence.acts)),
                cause.share * consequence.odds,
                f"{cause.says}; {label} {consequence.says}",
                brought=(*(name for name, _ in cause.acts), part),
            )
        )
    # several parts in line may each go, but never two for one short: the first ends it
    share = sum(own.share for own in joint)
    most = _MOST_TAKEN_ALONG * cause.share
    scale = min(1.0, most / share) if share > 0 else 1.0
    return [replace(own, share=own.share * scale) for own in joint]


HYPOTHESIS_KINDS = frozenset({"fault", "pair", "trio"})
"""Kinds of fact that `as_facts` gives."""


def as_facts(hypotheses: Iterable[Hypothesis]) -> Iterator[Fact]:
    """What rules know of joint hypotheses: the fault, and its two or three parts in order."""
    for hypothesis in hypotheses:
        if hypothesis.brought is not None:
            first, second, *third = hypothesis.brought
            yield fact(
                "fault", name=hypothesis.id, part=first, stage=hypothesis.stage,
                acts=hypothesis.acts[0][1], joint="joint",
            )
            parts = {"fault": hypothesis.id, "first": first, "second": second}
            if third:
                yield fact("trio", **parts, third=third[0])
            else:
                yield fact("pair", **parts)
