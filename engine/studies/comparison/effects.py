"""Each unit deduced and planned with both bodies of knowledge, and what differs."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace

from engine.assembly.builder import build
from engine.assembly.pace import of_shop
from engine.assembly.shop import Shop
from engine.deduce.composition import Bench
from engine.deduce.deduction import Deduction, Reasoner
from engine.model.plan import Ask, Plan, Verdict
from engine.model.records import Mains, Model, Test, document
from engine.planner import plan
from engine.studies.comparison.sides import Side
from kb.language.benchfile import BenchFile
from kb.trouble import Trouble, TroubleError

DEPTHS = ("stage", "part")
Tell = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Move:
    """Something of a unit that was one thing and is another; "" where it is not there."""

    what: str
    name: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Result:
    """A unit's model and plan with one body of knowledge."""

    model: Model = field(repr=False)
    plan: Plan = field(repr=False)


@dataclass(frozen=True, slots=True)
class Effect:
    """What a change does to one unit at one depth.

    `old` and `new` are None where the unit is not there, or can't be built: then `troubles` tells.
    `lost_cautions` are (step, caution) that the new model no longer has at a step both have.
    """

    topology: str
    mains: Mains
    depth: str
    old: Result | None
    new: Result | None
    moved: tuple[Move, ...] = ()
    lost_cautions: tuple[tuple[str, str], ...] = ()
    troubles: tuple[Trouble, ...] = ()

    @property
    def nothing(self) -> bool:
        """Whether the unit's model stays as it is."""
        return not (self.moved or self.lost_cautions or self.troubles)


def effects(
    old: Side,
    new: Side,
    *,
    mains: Mains,
    seconds: float,
    only: Iterable[str] = (),
    tell: Tell = lambda words: None,
) -> tuple[Effect, ...]:
    """What the change does to each topology (or those of `only`), to the stage and to the part.

    `seconds` bounds each plan; a unit whose models are equal is planned once.
    """
    names = dict.fromkeys((*old.knowledge.topologies, *new.knowledge.topologies))
    chosen_names = set(only) or set(names)
    reasoners = {"old": Reasoner(old.knowledge), "new": Reasoner(new.knowledge)}
    changes: list[Effect] = []
    for name in (n for n in names if n in chosen_names):
        tell(f"deducing {name} with both")
        sides = {
            which: _deduce(reasoners[which], name, one, mains)
            for which, one in (("old", old), ("new", new))
        }
        for depth in DEPTHS:
            tell(f"planning {name} to the {depth} with both")
            changes.append(_effect(name, mains, depth, sides["old"], sides["new"], seconds))
    return tuple(changes)


@dataclass(frozen=True, slots=True)
class _OnBench:
    """What one body of knowledge implies for a unit on its shop's bench."""

    deduction: Deduction
    bench: Bench
    file: BenchFile | None


_Deduction = _OnBench | tuple[Trouble, ...] | None


def _deduce(reasoner: Reasoner, name: str, one: Side, mains: Mains) -> _Deduction:
    if name not in reasoner.knowledge.topologies:
        return None
    try:
        bench = Shop(file=one.bench).bench(reasoner.knowledge, name, mains)
        return _OnBench(reasoner.deduce(name, bench), bench, one.bench)
    except TroubleError as error:
        return error.troubles


def _effect(
    name: str, mains: Mains, depth: str, old: _Deduction, new: _Deduction, seconds: float
) -> Effect:
    troubles = new if isinstance(new, tuple) else ()
    before, after = (_model(one, name, depth) for one in (old, new))
    first = None if before is None else Result(before, plan(before, seconds=seconds))
    if before is not None and after is not None and _same(before, after):
        return Effect(name, mains, depth, first, first)
    second = None if after is None else Result(after, plan(after, seconds=seconds))
    moves = tuple(_moves(first, second)) or (Move("words only", "", "as before", "others"),)
    losses = tuple(_losses(first, second))
    return Effect(name, mains, depth, first, second, moves, losses, troubles)


def _model(side: _Deduction, name: str, depth: str) -> Model | None:
    if not isinstance(side, _OnBench):
        return None
    model_of_rules = build(side.deduction, name, side.bench, depth)
    return of_shop(model_of_rules, side.deduction, side.file)


def _same(one: Model, other: Model) -> bool:
    """Whether two models are equal but for the knowledge they name."""
    return document(replace(one, knowledge="")) == document(replace(other, knowledge=""))


def _moves(old: Result | None, new: Result | None) -> Iterable[Move]:
    if old is None or new is None:
        presence = {True: "is there", False: ""}
        yield Move("unit", "", presence[old is not None], presence[new is not None])
        return
    yield from _between("fault", _faults(old.model), _faults(new.model))
    yield from _tests(old.model, new.model)
    yield from _between("remedy", _remedies(old.model), _remedies(new.model))
    for what, before, after in (
        ("first step", _first(old), _first(new)),
        ("expected minutes", f"{old.plan.proof.expected_minutes:.2f}",
         f"{new.plan.proof.expected_minutes:.2f}"),
        ("expected cost", f"{old.plan.proof.expected_cost:.2f}",
         f"{new.plan.proof.expected_cost:.2f}"),
    ):  # fmt: skip
        if before != after:
            yield Move(what, "", before, after)
    yield from _between("verdict", verdicts(old), verdicts(new))


def _between(what: str, old: Mapping[str, str], new: Mapping[str, str]) -> Iterable[Move]:
    for name in dict.fromkeys((*old, *new)):
        before, after = old.get(name, ""), new.get(name, "")
        if before != after:
            yield Move(what, name, before, after)


def _faults(model: Model) -> dict[str, str]:
    return {fault.id: f"{100 * fault.prior:.2f} %" for fault in model.faults}


def _tests(old: Model, new: Model) -> Iterable[Move]:
    """Tests that came and went; of the others what differs in asking, setting up and showing."""
    before, after = ({test.id: test for test in model.tests} for model in (old, new))
    yield from _between(
        "test", {n: t.says for n, t in before.items() if n not in after},
        {n: t.says for n, t in after.items() if n not in before},
    )  # fmt: skip
    for name, test in before.items():
        if name in after:
            yield from _between(f"test {name},", _aspects(test), _aspects(after[name]))
            yield from _cells(name, old, new)


def _aspects(test: Test) -> dict[str, str]:
    bands = (o.id if o.high is None else f"{o.id} below {o.high:g} {o.unit}" for o in test.outcomes)
    return {
        "question": test.says,
        "how": test.how,
        "good": test.good,
        "minutes": f"{test.minutes:g}",
        "supply": test.supply,
        "rig": test.rig,
        "openings": ", ".join(test.opened),
        "answers": "; ".join(bands),
        "answers that show a short": ", ".join(o.id for o in test.outcomes if o.short),
        "cautions": ", ".join(test.cautions),
    }


def _cells(test: str, old: Model, new: Model) -> Iterable[Move]:
    """Faults under which a test most likely shows something else, and how many odds differ."""
    before, after = old.likelihood[test], new.likelihood[test]
    other = 0
    for fault in (f for f in before if f in after):
        first, second = (max(rows[fault].items(), key=_odds)[0] for rows in (before, after))
        if first != second:
            yield Move("cell", f"{test} under {fault}", first, second)
        elif before[fault] != after[fault]:
            other += 1
    if other:
        yield Move("odds of", test, "as before", f"others under {other} faults")


def _remedies(model: Model) -> dict[str, str]:
    return {
        r.id: f"{r.minutes:g} min: {r.says}; cures {', '.join(r.cures)}" for r in model.remedies
    }


def _first(result: Result) -> str:
    node = result.plan.nodes[result.plan.root]
    return node.test if isinstance(node, Ask) else getattr(node, "remedy", "")


def verdicts(result: Result) -> dict[str, str]:
    """For each fault the remedy that the chart ends in most often."""
    weight: defaultdict[str, defaultdict[str, float]] = defaultdict(lambda: defaultdict(float))
    for node in result.plan.nodes.values():
        if isinstance(node, Verdict):
            for fault, odds in node.weights:
                weight[fault][node.remedy] += odds
    return {fault: max(ends.items(), key=_odds)[0] for fault, ends in weight.items()}


def _odds(end: tuple[str, float]) -> float:
    return end[1]


def _losses(old: Result | None, new: Result | None) -> Iterable[tuple[str, str]]:
    """Cautions that a step had and no longer has."""
    if old is None or new is None:
        return
    before, after = _cautions(old.model), _cautions(new.model)
    for step, cautions in before.items():
        for caution in cautions:
            if step in after and caution not in after[step]:
                yield step, caution


def _cautions(model: Model) -> dict[str, tuple[str, ...]]:
    cautions: dict[str, tuple[str, ...]] = {}
    cautions.update((test.id, test.cautions) for test in model.tests)
    cautions.update((remedy.id, remedy.cautions) for remedy in model.remedies)
    cautions.update((proof.id, proof.cautions) for proof in model.proofs)
    cautions.update((opening.id, opening.cautions) for opening in model.openings)
    cautions.update((rig.id, rig.cautions) for rig in model.rigs)
    cautions.update((a.id, a.cautions) for a in model.supply.arrangements)
    return cautions
