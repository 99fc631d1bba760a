"""Why this question, and how the present belief came about, as plain records.

`why` looks ahead: what each outcome of the pending test would leave in question, what the test
takes, and which test came second. `how` looks back: what each answer cleared or pointed at, with
the rules that made the test tell. The wording is left to whoever shows it.

Odds of outcomes are those the person will report, misreads included. The weight of an answer for
a suspect is the likelihood ratio of the suspect against all others, as odds change by Bayes' rule
(posterior odds = prior odds x ratio).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from engine.model import setup
from engine.model.absence import NO_REPAIR
from engine.model.records import Because, Model, Test
from engine.readings import belief as beliefs
from engine.walk.job import Walk, due

# A ratio this small or smaller clears a suspect; its inverse points at it. At even odds it leaves
# 1 in 20, the level below which a repairer stops thinking of a suspect.
CLEARS = 1.0 / 19.0
# Between this and its inverse an answer has hardly moved a suspect.
MOVES = 0.5


@dataclass(frozen=True, slots=True)
class Suspect:
    """A fault with its probability; variants of one fault are added up under their parent."""

    fault: str
    stage: str
    p: float


@dataclass(frozen=True, slots=True)
class Prospect:
    """One outcome of a test: its odds, who would be left in question and who would drop out.

    `drops` are the suspects whose odds this outcome cuts to a twentieth or less.
    """

    outcome: str
    odds: float
    left: tuple[Suspect, ...]
    drops: tuple[Suspect, ...]


@dataclass(frozen=True, slots=True)
class RunnerUp:
    """Another test that could have come next, and the expected minutes it would cost on top."""

    test: str
    extra_minutes: float


@dataclass(frozen=True, slots=True)
class Purpose:
    """Why a test is asked: prospects by outcome, minutes of test and setups, runners-up, rules.

    `cannot_minutes` are the expected minutes that doing without it adds, where they are known.
    """

    test: str
    minutes: float
    setup_minutes: float
    prospects: tuple[Prospect, ...]
    runners_up: tuple[RunnerUp, ...]
    because: tuple[Because, ...]
    cannot_minutes: float | None = None


@dataclass(frozen=True, slots=True)
class Weight:
    """How far one answer moved the odds of a suspect or a whole stage against all the rest."""

    suspect: str
    stage: bool
    ratio: float


@dataclass(frozen=True, slots=True)
class Ground:
    """One answer with what it did: whom it cleared, whom it points at, by which rules.

    `rig` and `supply` are those the test is done with; `because` holds only rules not told for an
    earlier step.
    """

    step: int
    test: str
    answer: str
    reading: str | None
    rig: str
    supply: str
    cleared: tuple[Weight, ...]
    pointed: tuple[Weight, ...]
    because: tuple[Because, ...]
    told_before: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Account:
    """The present belief: suspects, likeliest first, and the grounds it stands on."""

    suspects: tuple[Suspect, ...]
    grounds: tuple[Ground, ...]


def why(
    walk: Walk, runners_up: Iterable[RunnerUp] = (), cannot_minutes: float | None = None
) -> Purpose | None:
    """What the pending test is for; None once the verdict is reached."""
    node = due(walk)
    if node is None:
        return None
    test = walk.model.test(node.test)
    return Purpose(
        test=test.id,
        minutes=test.minutes,
        setup_minutes=setup.minutes(walk.model, walk.bench, node.state),
        prospects=_prospects(walk.outlook, walk.belief, test.id),
        runners_up=tuple(runners_up),
        because=test.because,
        cannot_minutes=cannot_minutes,
    )


def how(walk: Walk) -> Account:
    """How the present belief came about, answer by answer."""
    grounds: list[Ground] = []
    earlier: dict[str, Because] = {}
    before: Mapping[str, float] = {fault.id: fault.prior for fault in walk.model.faults}
    for number, step in enumerate(walk.steps, start=1):
        if step.test is not None and step.answer is not None:
            reasons = walk.model.test(step.test).because
            clearances, pointers = _weigh(walk.model, before, step.test, step.answer)
            grounds.append(
                Ground(
                    step=number,
                    test=step.test,
                    answer=step.answer,
                    reading=step.reading,
                    rig=walk.model.test(step.test).rig,
                    supply=walk.model.test(step.test).supply,
                    cleared=clearances,
                    pointed=pointers,
                    because=tuple(r for r in reasons if r.rule not in earlier),
                    told_before=tuple(r.rule for r in reasons if r.rule in earlier),
                )
            )
            earlier |= {reason.rule: reason for reason in reasons}
            before = step.belief
    return Account(rank_suspects(walk.model, walk.belief), tuple(grounds))


def rank_suspects(model: Model, belief: Mapping[str, float]) -> tuple[Suspect, ...]:
    """The suspects, likeliest first, variants added to their parent; zero odds are left out."""
    sums: dict[str, Suspect] = {}
    for fault in model.faults:
        p = belief.get(fault.id, 0.0)
        name = fault.variant_of or fault.id
        suspect = sums.get(name, Suspect(name, fault.stage, 0.0))
        sums[name] = replace(suspect, p=suspect.p + p)
    return tuple(sorted((s for s in sums.values() if s.p > 0), key=lambda s: -s.p))


def sound_answer(model: Model, test: Test) -> str:
    """The id of the answer that a unit with nothing to mend gives most often; empty where the model
    has no such fault."""
    sound = next((f for r in model.remedies if r.kind == NO_REPAIR for f in r.cures), None)
    if sound is None:
        return ""
    row = model.row(test.id, sound)
    return max(row, key=lambda outcome: row[outcome])


def suspect_words(model: Model, name: str) -> str:
    """What a suspect is: the fault's own words, or those of its variants where it has none."""
    variants = []
    for fault in model.faults:
        if fault.id == name:
            return fault.says
        if fault.variant_of == name:
            variants.append(fault.says)
    heads = {says.partition(": ")[0] for says in variants}
    if len(heads) == 1:
        tails = [says.partition(": ")[2] for says in variants]
        return f"{heads.pop()}: {' or '.join(tails)}"
    return " or ".join(variants)


def stage_said(model: Model, stage: str) -> str:
    """What a stage is, in words; its id where the model tells no more."""
    for note in model.stages:
        if note.id == stage:
            return note.says or stage
    return stage


def by_stage(model: Model, belief: Mapping[str, float]) -> dict[str, float]:
    """Belief summed over each stage, in the model's own order of stages."""
    sums = {stage.id: 0.0 for stage in model.stages}
    for fault in model.faults:
        sums[fault.stage] = sums.get(fault.stage, 0.0) + belief.get(fault.id, 0.0)
    return sums


def _prospects(model: Model, belief: Mapping[str, float], test: str) -> tuple[Prospect, ...]:
    prospects = []
    before = {s.fault: s for s in rank_suspects(model, belief)}
    for outcome in model.test(test).outcomes:
        weights = {
            fault: p * beliefs.report_odds(model, test, fault).get(outcome.id, 0.0)
            for fault, p in belief.items()
            if p > 0
        }
        odds = sum(weights.values())
        if odds <= 0:
            prospects.append(Prospect(outcome.id, 0.0, (), ()))
            continue
        after = {f: w / odds for f, w in weights.items()}
        suspects = rank_suspects(model, after)
        after_odds = {s.fault: s.p for s in suspects}
        drops = tuple(s for s in before.values() if _is_cleared(s.p, after_odds.get(s.fault, 0.0)))
        dropouts = {s.fault for s in drops}
        prospects.append(
            Prospect(outcome.id, odds, tuple(s for s in suspects if s.fault not in dropouts), drops)
        )
    return tuple(prospects)


def _weigh(
    model: Model, before: Mapping[str, float], test: str, answer: str
) -> tuple[tuple[Weight, ...], tuple[Weight, ...]]:
    """Stages and suspects the answer cleared, and those it points at, by likelihood ratio.

    A stage stands for its suspects where all of them were moved the same way; it is told once.
    """
    likely = {f.id: beliefs.report_odds(model, test, f.id).get(answer, 0.0) for f in model.faults}
    groups: dict[str, list[str]] = {}
    parents: dict[str, list[str]] = {}
    for fault in model.faults:
        if before.get(fault.id, 0.0) > 0:
            groups.setdefault(fault.stage, []).append(fault.id)
            parents.setdefault(fault.variant_of or fault.id, []).append(fault.id)
    clearances: list[Weight] = []
    pointers: list[Weight] = []
    ratios = {name: _ratio(before, likely, members) for name, members in parents.items()}
    for stage, members in groups.items():
        names = list(dict.fromkeys(model.fault(m).variant_of or m for m in members))
        whole = _ratio(before, likely, members)
        if all(ratios[name] <= CLEARS for name in names):
            clearances.append(Weight(stage, True, whole))
        elif all(ratios[name] >= 1 / MOVES for name in names):
            pointers.append(Weight(stage, True, whole))
        else:
            clearances += [Weight(n, False, ratios[n]) for n in names if ratios[n] <= CLEARS]
            pointers += [Weight(n, False, ratios[n]) for n in names if ratios[n] >= 1 / MOVES]
    return (
        tuple(sorted(clearances, key=lambda w: w.ratio)),
        tuple(sorted(pointers, key=lambda w: -w.ratio)),
    )


def _ratio(
    before: Mapping[str, float], likely: Mapping[str, float], members: Iterable[str]
) -> float:
    """Likelihood ratio of the answer: these faults against all others; 1 where no other is left."""
    inside = set(members)
    p_in = sum(before[f] for f in inside)
    p_out = sum(p for f, p in before.items() if f not in inside)
    if p_in <= 0 or p_out <= 0:
        return 1.0
    like_in = sum(before[f] * likely[f] for f in inside) / p_in
    like_out = sum(p * likely[f] for f, p in before.items() if f not in inside) / p_out
    if like_out <= 0:
        return float("inf") if like_in > 0 else 1.0
    return like_in / like_out


def _is_cleared(before: float, after: float) -> bool:
    """Whether odds fell to a twentieth or less (as a likelihood ratio, not as probability)."""
    if before >= 1.0 or after >= 1.0:
        return False
    return after / (1 - after) <= CLEARS * before / (1 - before)
