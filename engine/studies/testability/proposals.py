"""Tests that a unit does not have yet, made up by the rules and carried through the unit by them.

Nothing is invented here beyond where to try. Three kinds of proposal:

- a *point*: a side of a stage at which the topology names no test point; the rules say what can be
  measured there;
- a *check*: what a rule offers for a part in one place, tried on parts of the same sort in others.
  Each plain demand that the rule makes of the unit's structure is dropped in turn; what the test
  would then show is worked out by the rules as for any test. Only parts with the traits and unit
  of one that the rule serves come in question, only checks done unplugged, and only what is read
  of the part itself: a rule's demands are often the reason why its test is safe or says anything.
  A test that shows the same under every fault, or what it has no answer for, is none. Where the
  diagnosis ends at the stage, the checks of single parts are proposals, too;
- a *board*: a known-good one put in its place.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any, get_args

from engine.assembly.builder import build
from engine.deduce.composition import Bench, compose
from engine.deduce.deduction import Exploration, Progress, Reasoner
from engine.deduce.facts import Fact, Findings
from engine.deduce.grounding import ground
from engine.deduce.templates import fill
from engine.model.absence import NO_RIG, UNENERGISED
from engine.model.records import Model, Outcome, Test
from kb.language.knowledge import Knowledge
from kb.language.schema import PointFact, Rule, Topology

_STRUCTURE = frozenset({"part", "trait", "way", "hangs", "stage", "board", "point"})
_MARKS = ("$", "= ")
_SIDES = {
    "in": "where power comes in",
    "out": "where power goes on",
    "rail": "supply rail",
    "decision": "output",
    "sensor": "sensor's node",
}
_HELPS, _STILL = "helps", "still-faulty"


class Kind(StrEnum):
    """What is proposed."""

    POINT = "point"
    CHECK = "check"
    BOARD = "board"


@dataclass(frozen=True, slots=True)
class Proposal:
    """One addition to a unit: the tests it brings, in words, and the rule it comes from, if any.

    `write` is what a topology or a rule would say for it.
    """

    id: str
    kind: Kind
    says: str
    tests: tuple[str, ...]
    rule: str = ""
    write: str = ""


@dataclass(frozen=True, slots=True)
class Offer:
    """A model with the tests of all proposals beside its own."""

    model: Model
    proposals: tuple[Proposal, ...]


def propose(
    knowledge: Knowledge, bench: Bench, base: Model, progress: Progress | None = None
) -> Offer:
    """All proposals for the unit of `base`, a model made of this knowledge on this bench.

    Costs one deduction. TroubleError where the knowledge doesn't fit together.
    """
    topology = knowledge.topologies[base.topology]
    points = _elsewhere(knowledge, topology, bench)
    with_points = _with_points(knowledge, topology, points)
    _, offer = Reasoner(with_points).survey(base.topology, bench)
    attempts = tuple(_attempts(knowledge, bench, offer))
    wide = _with_rules(with_points, attempts)
    exploration = Reasoner(wide).explore(base.topology, bench, progress)
    telling = tuple(t for t in attempts if _tells(t, exploration))
    with_rules = _with_rules(with_points, telling)
    deduction = Reasoner(with_rules).conclude(base.topology, bench, exploration)
    wide_model = _join(base, build(deduction, base.topology, bench, "part"))
    proposals = (
        *_point_proposals(base, wide_model, points),
        *_check_proposals(base, wide_model, {t.test: t for t in telling}),
    )
    return _with_boards(Offer(wide_model, proposals), topology)


def _points(knowledge: Knowledge, topology: Topology) -> dict[str, PointFact]:
    """A test point for every side of every stage that has none, under the next free names."""
    sides = {(point.stage, point.side) for point in topology.points.values()}
    number = 1 + max((_digits(name) for name in topology.points), default=0)
    points: dict[str, PointFact] = {}
    for name, stage in topology.stages.items():
        says = stage.says or knowledge.stages[stage.kind].says
        for side in get_args(PointFact.model_fields["side"].annotation):
            if (name, side) not in sides:
                words = f"{says}, {_SIDES.get(side, side)}"
                points[f"TP{number}"] = PointFact(stage=name, side=side, says=words)
                number += 1
    return points


def _elsewhere(knowledge: Knowledge, topology: Topology, bench: Bench) -> dict[str, PointFact]:
    """The free points that lie at another node, or behind another opening, than all before them."""
    points = _points(knowledge, topology)
    facts = compose(knowledge, _add_points(topology, points), bench)
    nodes: set[tuple[str, str]] = set()
    spots: dict[str, PointFact] = {}
    for point in (fact for fact in facts if fact.kind == "point"):
        name, where = point.text("name"), (point.text("node"), point.text("behind"))
        if name in points and (where not in nodes or not where[0]):
            spots[name] = points[name]
        nodes.add(where)
    return spots


def _digits(name: str) -> int:
    return int("".join(letter for letter in name if letter.isdigit()) or 0)


def _with_points(
    knowledge: Knowledge, topology: Topology, points: Mapping[str, PointFact]
) -> Knowledge:
    """The knowledge with these points in the topology."""
    wider = _add_points(topology, points)
    return replace(knowledge, topologies={**knowledge.topologies, topology.topology: wider})


def _add_points(topology: Topology, points: Mapping[str, PointFact]) -> Topology:
    return topology.model_copy(update={"points": {**topology.points, **points}})


@dataclass(frozen=True, slots=True)
class _Attempt:
    """A test where a rule does not offer it, as a rule of its own for this unit alone."""

    rule: Rule
    of: str
    test: str
    on: str
    supply: str
    of_the_part: bool
    outcomes: frozenset[str]


def _attempts(knowledge: Knowledge, bench: Bench, offer: Findings) -> Iterator[_Attempt]:
    """Every test that some rule would offer with one of its plain demands dropped."""
    sorts_of = _sorts_served(knowledge, bench)
    names = {test.text("name") for test in offer.of("test")}
    for rule in knowledge.rules.values():
        if rule.id not in sorts_of:
            continue
        for variant in _variants(rule):
            for instance in ground((variant,), offer.facts, frozenset()):
                facts = [fact for fact in instance.matches if fact is not None]
                part = next((fact for fact in facts if fact.kind == "part"), None)
                if part is None or _sort(knowledge, part) not in sorts_of[rule.id]:
                    continue
                for attempt in _fill(rule, instance.values, part):
                    if attempt.test not in names and _is_cold(knowledge, attempt):
                        names.add(attempt.test)
                        yield attempt


_Sort = tuple[tuple[str, ...], str]


def _sorts_served(knowledge: Knowledge, bench: Bench) -> Mapping[str, set[_Sort]]:
    """By rule that offers a test: the sorts of part it serves in any topology."""
    offering = tuple(
        rule
        for rule in knowledge.rules.values()
        if rule.step == "offer" and any("test" in clause for clause in rule.then)
    )
    sorts_of: defaultdict[str, set[_Sort]] = defaultdict(set)
    reasoner = Reasoner(knowledge)
    for topology in knowledge.topologies:
        _, offer = reasoner.survey(topology, bench)
        for instance in ground(offering, offer.facts, frozenset()):
            for fact in instance.matches:
                if fact is not None and fact.kind == "part":
                    sorts_of[instance.rule.id].add(_sort(knowledge, fact))
    return sorts_of


def _sort(knowledge: Knowledge, part: Fact) -> _Sort:
    kind = knowledge.parts[part.text("kind")]
    return tuple(sorted(kind.traits)), kind.unit


def _is_cold(knowledge: Knowledge, attempt: _Attempt) -> bool:
    """Whether the test is done without any energy, and reads the part itself."""
    arrangement = knowledge.arrangements.get(attempt.supply)
    return arrangement is not None and arrangement.energy == UNENERGISED and attempt.of_the_part


def _variants(rule: Rule) -> Iterator[Rule]:
    """The rule with one plain demand on the unit's structure dropped, each in turn."""
    for number, clause in enumerate(rule.when):
        ((kind, fields),) = clause.items()
        if kind not in _STRUCTURE:
            continue
        for name, pattern in fields.items():
            if (isinstance(pattern, str) and not pattern.startswith("$")) or (
                isinstance(pattern, Mapping) and set(pattern) <= {"any"}
            ):
                rest = {kind: {n: w for n, w in fields.items() if n != name}}
                when = (*rule.when[:number], rest, *rule.when[number + 1 :])
                yield rule.model_copy(update={"when": when})


def _fill(rule: Rule, values: Mapping[str, Any], part: Fact) -> Iterator[_Attempt]:
    """The rule's conclusions for these values as a rule without demands."""
    then: list[dict[str, dict[str, Any]]] = []
    for clause in rule.then:
        ((kind, fields),) = clause.items()
        try:
            then.append({kind: fill(fields, values)})
        except (KeyError, ValueError, ZeroDivisionError, OverflowError):
            return
    if any(_reads_as_template(conclusion) for conclusion in then):
        return
    for clause in then:
        test = clause.get("test")
        if test is None or not _rising(test.get("answers", ())):
            continue
        name = str(test["name"])
        own = rule.model_copy(
            update={
                "id": f"{rule.id}.{name}",
                "when": ({"unit": {}},),
                "unless": (),
                "then": tuple(c for c in then if "test" not in c or c is clause),
            }
        )
        yield _Attempt(
            rule=own,
            of=rule.id,
            test=name,
            on=part.text("says"),
            supply=str(test["supply"]),
            of_the_part=test["at"] == part.text("name"),
            outcomes=frozenset(str(v) for answer in test["answers"] for v in answer["for"]),
        )


def _rising(answers: Any) -> bool:
    """Whether the cut points of a test's answers rise: else it measures what the part has not."""
    cuts = [float(answer["below"]) for answer in answers if "below" in answer]
    return all(low < high for low, high in zip([0.0, *cuts], cuts, strict=False))


def _reads_as_template(value: Any) -> bool:
    """Whether some filled text would be taken for a template again."""
    if isinstance(value, str):
        return value.startswith(_MARKS) or "{" in value
    if isinstance(value, Mapping):
        return any(_reads_as_template(inner) for inner in value.values())
    return isinstance(value, list) and any(_reads_as_template(inner) for inner in value)


def _with_rules(knowledge: Knowledge, attempts: tuple[_Attempt, ...]) -> Knowledge:
    return replace(knowledge, rules={**knowledge.rules, **{t.rule.id: t.rule for t in attempts}})


def _tells(attempt: _Attempt, exploration: Exploration) -> bool:
    """Whether a test shows different things under different faults, all of which it can answer."""
    outcomes = {exploration.values[attempt.test, h.id] for h in exploration.hypotheses}
    return len(outcomes) > 1 and outcomes <= attempt.outcomes


def _join(base: Model, wide_model: Model) -> Model:
    """The base model with what is new in the extended one: tests, rows, rigs, leads and tracings.

    No repair is tried that the base model does not know as a remedy.
    """
    own = {test.id for test in base.tests}
    rigs = {rig.id for rig in base.rigs}
    openings = {opening.id for opening in base.openings}
    faults = {fault.id for fault in base.faults}
    remedies = {"", *(remedy.id for remedy in base.remedies)}
    tests = tuple(
        test
        for test in wide_model.tests
        if test.id not in own
        and test.mends in remedies
        and faults <= set(wide_model.likelihood[test.id])
    )
    return replace(
        base,
        tests=(*base.tests, *tests),
        openings=(*base.openings, *(o for o in wide_model.openings if o.id not in openings)),
        rigs=(*base.rigs, *(rig for rig in wide_model.rigs if rig.id not in rigs)),
        likelihood={**base.likelihood, **{t.id: wide_model.likelihood[t.id] for t in tests}},
    )


def _point_proposals(
    base: Model, wide_model: Model, points: Mapping[str, PointFact]
) -> Iterator[Proposal]:
    own = {test.id for test in base.tests}
    for name, point in points.items():
        tests = tuple(t.id for t in wide_model.tests if t.point == name and t.id not in own)
        if tests:
            write = f'{name}: {{stage: {point.stage}, side: {point.side}, says: "{point.says}"}}'
            yield Proposal(name, Kind.POINT, f"a test point: {point.says}", tests, "", write)


def _check_proposals(
    base: Model, wide_model: Model, attempts: Mapping[str, _Attempt]
) -> Iterator[Proposal]:
    own = {test.id for test in base.tests}
    for test in wide_model.tests:
        if test.id in own:
            continue
        if test.id in attempts:
            attempt = attempts[test.id]
            says = f"{attempt.on}: the check that the rule {attempt.of} offers in other places"
            yield Proposal(test.id, Kind.CHECK, says, (test.id,), attempt.of)
        elif not test.point or any(point.id == test.point for point in base.points):
            says = f"a check that is offered at part depth: {test.says}"
            yield Proposal(test.id, Kind.CHECK, says, (test.id,), test.because[0].rule)


def _with_boards(offer: Offer, topology: Topology) -> Offer:
    """The same with a known-good board of each sort tried in place of the unit's own."""
    model = offer.model
    board_of = {part: stage.board for stage in topology.stages.values() for part in stage.parts}
    tests, rows, proposals = [], {}, []
    for name, board in topology.boards.items():
        test = Test(
            id=f"known-good-{name}",
            says=f"Does a known-good {board.says} in its place cure it?",
            minutes=board.swap_minutes,
            opened=(board.behind,),
            supply=model.dead_supply,
            rig=NO_RIG,
            hands_on=True,
            outcomes=(Outcome(_HELPS, "it does"), Outcome(_STILL, "it does not")),
        )
        tests.append(test)
        rows[test.id] = {
            fault.id: _sure(
                _HELPS if fault.parts and all(board_of.get(p.part) == name for p in fault.parts)
                else _STILL
            )
            for fault in model.faults
        }  # fmt: skip
        proposals.append(Proposal(test.id, Kind.BOARD, test.says, (test.id,)))
    wider = replace(model, tests=(*model.tests, *tests), likelihood={**model.likelihood, **rows})
    return Offer(wider, (*offer.proposals, *proposals))


def _sure(outcome: str) -> dict[str, float]:
    return {o: float(o == outcome) for o in (_HELPS, _STILL)}
