"""Where the figures behind a fault's odds come from: share of the failure mode, proneness, family.

A prior is the share of all cases that a family has, split by proneness and by the shares of failure
modes. Each of these figures has its source in the knowledge; they travel with the fault, after the
rules that made it a hypothesis. What rules say of a family's share is an opinion worth some closed
cases: opinions are pooled as counts, counted cases add to them.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator

from engine.deduce import anatomy
from engine.deduce.deduction import Deduction
from engine.deduce.facts import View, views_of
from engine.deduce.hypotheses import Hypothesis
from engine.model.records import Because
from engine.model.shares import FamilyShare, Voice
from engine.readings.counts import Opinion, interval, pooled

BENCH = "bench"
"""The opinion that a rule speaks for which names none."""
STRENGTH = 40.0
"""How many closed cases an opinion is worth that names no strength: as many as its widest range,
an LED package open in 40 of 100 (25 to 55), as an interval of 95 of 100."""


def sources(deduction: Deduction, hypothesis: Hypothesis, family: str) -> tuple[Because, ...]:
    """What is said of a hypothesis's share, and where each figure is from."""
    return (*_parts(deduction, hypothesis), *_slices(deduction, family))


def families(deduction: Deduction) -> tuple[FamilyShare, ...]:
    """The share of each family that rules speak of, the greatest first."""
    voices: defaultdict[str, list[Voice]] = defaultdict(list)
    by_opinion: defaultdict[str, dict[str, Voice]] = defaultdict(dict)
    for own in deduction.all(anatomy.Slice):
        voice = _opinion(deduction, own)
        voices[own.family].append(voice)
        by_opinion[voice.opinion][own.family] = voice
    cases: defaultdict[str, float] = defaultdict(float)
    for book in deduction.all(anatomy.Counted):
        says, source = _origin(deduction, book)
        voices[book.family].append(Voice(book.book, says, source, cases=book.cases))
        cases[book.family] += book.cases
    opinions = [
        Opinion({f: v.share for f, v in of.items()}, min(v.strength for v in of.values()))
        for of in by_opinion.values()
    ]
    counts = pooled(opinions, cases)
    total = math.fsum(counts.values())
    entries = [
        FamilyShare(
            family, count / total, *interval(min(count, total), total), count, total,
            tuple(sorted(voices[family], key=lambda voice: -voice.strength - voice.cases)),
        )
        for family, count in counts.items() if total
    ]  # fmt: skip
    return tuple(sorted(entries, key=lambda share: (-share.count, share.family)))


def _opinion(deduction: Deduction, own: anatomy.Slice) -> Voice:
    says, source = _origin(deduction, own)
    return Voice(
        BENCH if own.opinion is None else own.opinion, says, source, own.share,
        own.least or 0.0, own.most or 0.0, STRENGTH if own.strength is None else own.strength,
    )  # fmt: skip


def _origin(deduction: Deduction, own: View) -> tuple[str, str]:
    """What the rule behind a fact says, and its source."""
    cause = deduction.once.causes.get(own.fact)
    rule = deduction.knowledge.rules[cause.rule] if cause is not None else None
    return (rule.says, rule.source) if rule else ("", "")


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
