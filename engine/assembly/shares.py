"""Where the figures behind a fault's odds come from: share of the failure mode, proneness, family.

A prior is the share of all cases that a family has, split by proneness and by the shares of failure
modes. Each of these figures has its source in the knowledge; they travel with the fault, after the
rules that made it a hypothesis.
"""

from __future__ import annotations

from collections.abc import Iterator

from engine.deduce import anatomy
from engine.deduce.deduction import Deduction, Hypothesis
from engine.deduce.facts import views_of
from engine.model.records import Because


def sources(deduction: Deduction, hypothesis: Hypothesis, family: str) -> tuple[Because, ...]:
    """What is said of a hypothesis's share, and where each figure is from."""
    return (*_parts(deduction, hypothesis), *_slices(deduction, family))


def _parts(deduction: Deduction, hypothesis: Hypothesis) -> Iterator[Because]:
    """For the part that failed by itself: how often in this way, and how prone it is."""
    kinds = {part.name: part.part_kind for part in views_of(anatomy.Part, deduction.unit)}
    for part, mode in hypothesis.parts[:1]:
        kind = deduction.knowledge.parts[kinds[part]]
        name = next(own for own in kind.modes if mode == own or mode.startswith(f"{own}-"))
        own = kind.modes[name]
        share = f"{own.share:.0%} of the failures of this kind of part are of this mode"
        weight = f"as prone as {kind.proneness:g} plain resistors"
        yield Because(f"{kind.kind}: {name}", (), share, own.source)
        yield Because(kind.kind, (), weight, kind.proneness_source)


def _slices(deduction: Deduction, family: str) -> Iterator[Because]:
    """For the family that its cases are counted in: the share of all cases."""
    for own in deduction.all(anatomy.Slice):
        cause = deduction.once.causes.get(own.fact)
        if own.family == family and cause is not None:
            rule = deduction.knowledge.rules[cause.rule]
            yield Because(rule.id, (), rule.says, rule.source)
