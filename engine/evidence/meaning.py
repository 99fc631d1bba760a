"""What one reading means: what is due, how far off it is, what explains it, what to check next."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from engine import planner
from engine.circuit.dictionary import Dictionary, Sibling
from engine.evidence.joint import Joint
from engine.evidence.limits import PromiseCheck, check_promises
from engine.evidence.make import values
from engine.evidence.telling import Drop, drop
from engine.evidence.witness import OVER, SOUND, Witness
from engine.model import setup
from engine.model.plan import Ask, Verdict
from engine.model.records import Model, Test
from engine.readings import belief as beliefs
from engine.readings.bands import Answer, Band, bands
from kb.language import loader
from kb.quantities import VOLT, read_quantity, show

SELDOM = 0.05
"""Odds of over range that count as foreseen: meters' highest ranges end differently."""
MOST_DESIGNS = 8
"""More designs than these are not listed one by one. Our choice."""
NEGLIGIBLE = 5e-4
"""Odds of a fault under which the next check is not planned for it."""


@dataclass(frozen=True, slots=True)
class Due:
    """What a sound unit reads: the rule's band and words, and the simulated span (base unit).

    `nominal`, `low` and `high` (the span of the siblings' readings) are None where nothing was
    derived; `designs` pairs each design's words and its values as marked with what it reads.
    """

    unit: str
    band: Band | None
    good: str
    says: str
    source: str
    nominal: float | None
    low: float | None
    high: float | None
    designs: tuple[tuple[str, tuple[str, ...], float], ...]
    from_good_unit: float | None = None


@dataclass(frozen=True, slots=True)
class Explanation:
    """A fault with its odds before and after the reading, and how well it fits: its density over
    that of the best-fitting fault; `typical` is what it reads by itself, low, middle, high, and
    `slip` what part of the fit is that it was misread."""

    fault: str
    says: str
    before: float
    after: float
    fits: float
    typical: tuple[float, float, float] | None
    slip: float = 0.0


@dataclass(frozen=True, slots=True)
class Next:
    """The check to do next, its minutes with set-up, and what each explanation would show there;
    or, with `remedy`, that no check pays any more."""

    test: str | None
    says: str
    minutes: float
    shows: tuple[tuple[str, str, float], ...]
    remedy: str | None = None


@dataclass(frozen=True, slots=True)
class Meaning:
    """All of it, for people and as a document. `foreseen` is false where no simulated fault reads
    so: then something was misread, or is not listed."""

    model: Model
    test: Test
    answer: Answer
    due: Due
    sound_odds: float
    explanations: tuple[Explanation, ...]
    promises: tuple[PromiseCheck, ...]
    next: Next
    posterior: Mapping[str, float]
    foreseen: bool
    drop: Drop | None


def meaning(witness: Witness, answer: Answer, seconds: float = 1.0) -> Meaning:
    """What a reading means as the first one of a diagnosis; a plan of up to `seconds` is made.

    O(faults x samples) and the plan. Raises TroubleError where no fault is left.
    """
    model, test = witness.model, witness.model.test(answer.test)
    prior = {fault.id: fault.prior for fault in model.faults}
    testimony = Joint(witness).weigh(answer)
    if testimony is None:
        after = beliefs.update(model, prior, test.id, answer.shares)
        most = max(after[f] / prior[f] for f in prior if prior[f] > 0)
        fits = {f: after[f] / prior[f] / most if prior[f] > 0 else 0.0 for f in prior}
    else:
        after, fits = beliefs.weigh(prior, testimony.factors), dict(testimony.factors)
    slips = {} if testimony is None else testimony.slips
    candidates = (
        Explanation(
            f.id, f.says, f.prior, after[f.id], fits[f.id], _typical(witness, test, f.id),
            slips.get(f.id, 0.0),
        )
        for f in model.faults
    )  # fmt: skip
    explanations = sorted(candidates, key=lambda one: -one.after)
    volts = answer.low if answer.unit == VOLT and answer.low == answer.high else None
    return Meaning(
        model, test, answer, due(witness, test), after.get(SOUND, 0.0), tuple(explanations),
        check_promises(model, test, volts) if volts is not None else (),
        next_check(model, test, answer.outcome, after, seconds), after,
        _foreseen(witness, test, answer),
        drop(witness, test, after, fits) if volts is not None else None,
    )  # fmt: skip


def due(witness: Witness, test: Test) -> Due:
    """What a sound unit reads at a test, and why."""
    model, dictionary = witness.model, witness.dictionary
    likely = model.row(test.id, SOUND) if SOUND in {f.id for f in model.faults} else {}
    normal = max(likely, key=lambda outcome: likely[outcome]) if likely else ""
    band = next((b for b in bands(test) if b.outcome == normal), None)
    why = test.because[0] if test.because else None
    unit = dictionary.measures.get(test.id, "") if dictionary is not None else ""
    nominal = low = high = None
    designs: tuple[tuple[str, tuple[str, ...], float], ...] = ()
    cell = dictionary.cell(test.id, SOUND) if dictionary is not None else None
    if dictionary is not None and cell is not None:
        counting = _counting(witness, dictionary)
        has_nominal = any(unit.values == dictionary.listed for unit in counting)
        nominal = values(cell)[0] if has_nominal else None
        span = _typical(witness, test, SOUND)
        if span is not None:
            low, _, high = span
        units = witness.make.weights or tuple(unit.weight for unit in dictionary.units)
        designs = _designs(dictionary, test.id, units)
    return Due(
        unit or (test.outcomes[0].unit or ""), band, test.good, why.says if why else "",
        why.source if why else "", nominal, low, high, designs,
        witness.make.expected.get(test.id),
    )  # fmt: skip


def next_check(
    model: Model, test: Test, answer: str, after: Mapping[str, float], seconds: float
) -> Next:
    """The first step of the best plan from here that asks anything, or its remedy."""
    bench = setup.reach(model, setup.start(model), test)
    total = sum(p for p in after.values() if p >= NEGLIGIBLE)
    belief = {f: p / total if p >= NEGLIGIBLE else 0.0 for f, p in after.items()}
    plan = planner.plan(
        model, belief=belief, state=bench, tests_done=frozenset({test.id}),
        answers=((test.id, answer),), seconds=seconds,
    )  # fmt: skip
    node = plan.nodes[plan.root]
    if isinstance(node, Verdict):
        remedy = model.remedy(node.remedy)
        return Next(None, remedy.says, remedy.minutes, (), remedy.id)
    assert isinstance(node, Ask)
    check = model.test(node.test)
    minutes = check.minutes + setup.minutes(model, bench, node.state)
    return Next(check.id, check.says, minutes, _shows(model, check, after))


def _shows(
    model: Model, check: Test, after: Mapping[str, float]
) -> tuple[tuple[str, str, float], ...]:
    """Outcome, its words and odds at the next check, likeliest first."""
    odds = {
        o.id: sum(p * model.row(check.id, f).get(o.id, 0.0) for f, p in after.items())
        for o in check.outcomes
    }
    rows = [(o.id, o.says, odds[o.id]) for o in check.outcomes if odds[o.id] > 0.005]
    return tuple(sorted(rows, key=lambda one: -one[2]))


def _foreseen(witness: Witness, test: Test, answer: Answer) -> bool:
    """Whether some fault's kernels are above a blind guess at a reading."""
    low, high = answer.low, answer.high
    if low is None or high is None or not witness.speaks(test):
        return True
    read = [witness.density(test, f.id) for f in witness.model.faults if witness.read(test, f.id)]
    if answer.reading == OVER:
        return any(density.over > SELDOM for density in read)
    if low == high:
        return any(density.share(low) > 1.0 for density in read)
    return any(density.mass(low, high) > density.blind(low, high) for density in read)


def _counting(witness: Witness, dictionary: Dictionary) -> Iterator[Sibling]:
    """The sampled units that still count, by what is known of this one."""
    weights = witness.make.weights or tuple(unit.weight for unit in dictionary.units)
    yield from (unit for unit, weight in zip(dictionary.units, weights, strict=True) if weight > 0)


def _typical(witness: Witness, test: Test, fault: str) -> tuple[float, float, float] | None:
    """Least, middle and greatest simulated reading under a fault, by the units that count."""
    dictionary = witness.dictionary
    cell = dictionary.cell(test.id, fault) if dictionary is not None else None
    if dictionary is None or cell is None:
        return None
    weights = witness.make.weights or tuple(unit.weight for unit in dictionary.units)
    plain = values(cell)
    draws = [
        (value, weight)
        for value, weight in zip(plain[1:], weights, strict=False)
        if value is not None and weight > 0
    ]
    readings = sorted(draws) or [(v, 1.0) for v in plain[:1] if v is not None]
    if not readings:
        return None
    half, middle = sum(w for _, w in readings) / 2, readings[-1][0]
    for value, weight in readings:
        half -= weight
        if half <= 0:
            middle = value
            break
    return readings[0][0], middle, readings[-1][0]


def _designs(
    dictionary: Dictionary, test: str, units: Sequence[float]
) -> tuple[tuple[str, tuple[str, ...], float], ...]:
    """Each design that counts, with the middle of what its sound units read; none where every unit
    has its own, too many to be listed."""
    cell = dictionary.cell(test, SOUND)
    designs: dict[tuple[tuple[str, float], ...], list[float | None]] = {}
    draws = zip(dictionary.units, units, values(cell)[1:] if cell else (), strict=False)
    for unit, weight, value in draws:
        if weight > 0:
            designs.setdefault(tuple(sorted(unit.values.items())), []).append(value)
    if len(designs) > MOST_DESIGNS:
        return ()
    rows, marks = [], _marks(dictionary.topology)
    for design, numbers in designs.items():
        read = sorted(value for value in numbers if value is not None)
        if read and all(math.isfinite(value) for value in read):
            markings = tuple(
                f"{part} {show(value, marks.get(part, ''))}"
                for part, value in design
                if dict(design) == dictionary.listed or value != dictionary.listed.get(part)
            )
            says = "as listed" if dict(design) == dictionary.listed else "otherwise"
            rows.append((says, markings, read[len(read) // 2]))
    return tuple(rows)


def _marks(topology: str) -> dict[str, str]:
    """The unit that each part with a value is marked in."""
    stages = loader.as_shipped().topologies[topology].stages.values()
    parts = {name: part for stage in stages for name, part in stage.parts.items()}
    return {name: read_quantity(part.value).unit for name, part in parts.items() if part.value}
