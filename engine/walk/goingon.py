"""At a verdict that is no end by itself: likeliest parts, minutes on to the part, stop or not.

A stage verdict says where the fault lies, no more. From its odds, its bench and the answers that
every way to it has, the rest is planned at part depth: minutes to find the part, minutes to mend
it, and how often that mends the unit. Against them stands what the unit is worth, in bench
minutes: going on pays where

    minutes + repair_minutes < saved x worth.

Advice is given where the shop told what the unit is worth, and nowhere else: the topology's own
figure only says when a plan to the part gives up.

Where the plan at part depth would scrap the unit at once, the figures are those of the best plan
that scraps nothing: the sum that a person who stops wants to see. A verdict of a part model that
gives a unit up is told so, too. A plan that was cut short is a plan all the same: its minutes are
what it takes, and the best one takes no more.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final, Literal

from engine.documents.chart import Onward
from engine.model.plan import Plan, Planner, State, Verdict
from engine.model.records import Model
from kb.language.benchfile import BenchFile

if TYPE_CHECKING:
    from engine.walk.job import Walk

GO_ON: Final = "go on"
STOP: Final = "stop"
GIVEN_UP = ("scrap", "salvage", "refuse")
"""Kinds of remedy that mend nothing."""
NEGLIGIBLE = 1e-6
"""Odds under which a part is not listed and a saving is none: rounding."""
Answers = tuple[tuple[str, str], ...]
Document = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class GoingOn:
    """Expected minutes to the part and of mending it, the odds that the unit is mended then, and
    what it is worth, in minutes; `parts` are the likeliest with their odds, all of them. Where
    nobody told the worth it `advises` nothing."""

    minutes: float
    repair_minutes: float
    saved: float
    worth: float
    parts: tuple[tuple[str, float], ...]
    advises: bool = True

    @property
    def advice(self) -> Literal["go on", "stop"]:
        """Whether going on costs less than the unit is worth."""
        total = self.minutes + self.repair_minutes
        return GO_ON if total < self.saved * self.worth else STOP

    @property
    def plain(self) -> dict[str, Any]:
        """As it stands at a verdict of the chart document."""
        sides = {"worth": self.worth, "advice": self.advice} if self.advises else {}
        figures = {"minutes": self.minutes, "repair_minutes": self.repair_minutes,
                   "saved": self.saved}  # fmt: skip
        return Onward.model_validate({**figures, **sides, "parts": self.parts}).plain()


@dataclass(frozen=True, slots=True)
class Stage:
    """The part model that a verdict goes on in, who plans there, and what the unit is worth; it
    `advises` where somebody told that worth."""

    part: Model
    planner: Planner
    worth: float
    advises: bool = True

    def goes_on(self, model: Model, remedy: str) -> bool:
        """Whether a remedy is no end: it gives the unit up, or is none at part depth."""
        remedies = {one.id for one in self.part.remedies}
        return remedy not in remedies or model.remedy(remedy).kind in GIVEN_UP

    def tells(self, model: Model, prospect: GoingOn) -> bool:
        """Whether a verdict of that model says so: a plan to the part knows when to give up, unless
        the shop says that the unit is worth something else."""
        if model.depth != self.part.depth:
            return True
        return prospect.advice == STOP or self.worth != scrap_minutes(self.part)

    def going_on(
        self,
        odds: Mapping[str, float],
        state: State,
        past_tests: Iterable[str] = (),
        answers: Answers = (),
    ) -> GoingOn | None:
        """What going on would take from there; None where nothing listed is left to be mended."""
        parts = parts_of(self.part, odds)
        if not parts:
            return None
        tests = {test.id for test in self.part.tests}
        weights = {f.id: odds.get(f.id, 0.0) for f in self.part.faults}
        total = sum(weights.values())
        belief = {fault: p / total for fault, p in weights.items()}
        tests_done = frozenset(past_tests) & tests
        relevant = tuple(pair for pair in answers if pair[0] in tests)
        prospect = None
        for model in (self._worth_told(), self._mending(), self._measured_once_out()):
            plan = self.planner(
                model, belief=belief, state=self._here(state), withdrawn=frozenset(),
                tests_done=tests_done, answers=relevant,
            )  # fmt: skip
            minutes, success = _repair_share(model, plan)
            if success > NEGLIGIBLE:
                prospect = GoingOn(
                    plan.proof.expected_minutes, minutes, min(1.0, success), self.worth, parts,
                    self.advises,
                )  # fmt: skip
                break
        return prospect

    def _worth_told(self) -> Model:
        """The part model, its unit worth what was told."""
        scrapping = scrap_minutes(self.part)
        if scrapping is None:
            return self.part
        remedies = (
            replace(r, minutes=max(0.0, r.minutes + self.worth - scrapping))
            if r.kind in GIVEN_UP
            else r
            for r in self.part.remedies
        )
        return replace(self.part, remedies=tuple(remedies))

    def _mending(self) -> Model:
        """The part model, nothing given up."""
        remedies = tuple(r for r in self.part.remedies if r.kind not in GIVEN_UP)
        return replace(self.part, remedies=remedies)

    def _measured_once_out(self) -> Model:
        """As `_mending`, where no reading left can speak for the part: it is measured once out."""
        mending = self._mending()
        remedies = tuple(
            replace(r, requires=tuple(q for q in r.requires if q.strict)) for r in mending.remedies
        )
        return replace(mending, remedies=remedies)

    def _here(self, state: State) -> State:
        """The bench as the part model names it."""
        openings = {opening.id for opening in self.part.openings}
        rigs = {rig.id for rig in self.part.rigs}
        rig = state.rig if state.rig in rigs else self.part.start.rig
        return State(state.opened & openings, self.part.dead_supply, rig)


def scrap_minutes(model: Model) -> float | None:
    """What losing the unit costs, by the model's own remedies."""
    return min((r.minutes for r in model.remedies if r.kind == "scrap"), default=None)


def shops_worth(model: Model, file: BenchFile | None) -> float | None:
    """What a working unit is worth in bench minutes by the shop's file, where it says both what
    such a unit and what a minute is worth; else None."""
    if file is not None:
        prices, unit = file.says.worth, file.says.worth.units.get(model.topology)
        if prices.minute and unit is not None:
            return unit / prices.minute
    return None


def worth(model: Model, file: BenchFile | None) -> float | None:
    """What a working unit is worth in bench minutes: by the shop's file, else by the topology; None
    where nobody says."""
    price = shops_worth(model, file)
    return scrap_minutes(model) if price is None else price


def parts_of(model: Model, odds: Mapping[str, float]) -> tuple[tuple[str, float], ...]:
    """The parts at fault with their odds, likeliest first; a joint fault counts for each."""
    sums: dict[str, float] = defaultdict(float)
    for fault in model.faults:
        for part in dict.fromkeys(part.part for part in fault.parts):
            sums[part] += odds.get(fault.id, 0.0)
    ranking = sorted(sums.items(), key=lambda pair: (-pair[1], pair[0]))
    return tuple((part, p) for part, p in ranking if p > NEGLIGIBLE)


def _repair_share(model: Model, plan: Plan) -> tuple[float, float]:
    """Minutes of the plan's remedies that mend, and the odds that the unit is mended by them."""
    minutes = success = 0.0
    for node in plan.nodes.values():
        if isinstance(node, Verdict):
            remedy = model.remedy(node.remedy)
            if remedy.kind not in GIVEN_UP:
                minutes += remedy.minutes * sum(weight for _, weight in node.weights)
                success += sum(weight for fault, weight in node.weights if fault in remedy.cures)
    return minutes, success


def with_going_on(model: Model, chart: Document, stage: Stage) -> dict[str, Any]:
    """The chart document with `going_on` at each verdict that is no end by itself."""
    nodes = dict(chart["nodes"])
    ends = [
        name
        for name, node in nodes.items()
        if node["kind"] == "verdict" and stage.goes_on(model, node["remedy"])
    ]
    ways = _ways(model, chart) if ends else {}
    for name in ends:
        odds = {fault["id"]: float(fault["p"]) for fault in nodes[name]["faults"]}
        way = ways[name]
        prospects = [
            stage.going_on(odds, state, way.tests, tuple(sorted(way.answers)))
            for state in sorted(way.states, key=_order)
        ]
        dearest = max(
            (one for one in prospects if one is not None), key=_minutes_spent, default=None
        )
        if dearest is not None and stage.tells(model, dearest):
            nodes[name] = {**nodes[name], "going_on": dearest.plain}
    return {**chart, "nodes": nodes}


def _minutes_spent(prospect: GoingOn) -> float:
    """Where several benches lead to a verdict, it tells of the one from which going on is dearest:
    from the others it takes no more."""
    return prospect.minutes + prospect.repair_minutes


def _order(state: State) -> tuple[str, ...]:
    return (*sorted(state.opened), state.supply, state.rig)


@dataclass(frozen=True, slots=True)
class _Way:
    """All ways to a node: the benches they leave, tests done on any, answers given on all."""

    states: frozenset[State]
    tests: frozenset[str]
    answers: frozenset[tuple[str, str]]

    def join(self, other: _Way | None) -> _Way:
        if other is None:
            return self
        return _Way(
            self.states | other.states, self.tests | other.tests, self.answers & other.answers
        )


def _ways(model: Model, chart: Document) -> dict[str, _Way]:
    start = model.start
    first = State(frozenset(start.opened), start.supply, start.rig)
    ways: dict[str, _Way] = {chart["root"]: _Way(frozenset({first}), frozenset(), frozenset())}
    for name in _in_order(chart):
        node, here = chart["nodes"][name], ways[name]
        if node["kind"] == "setup":
            openings = frozenset(node["open"])
            after = frozenset(
                State(s.opened | openings, node["supply"], node["rig"]) for s in here.states
            )
            way = _Way(after, here.tests, here.answers)
            ways[node["next"]] = way.join(ways.get(node["next"]))
        for outcome, child in node.get("branches", {}).items():
            way = _Way(
                here.states, here.tests | {node["test"]}, here.answers | {(node["test"], outcome)}
            )
            ways[child] = way.join(ways.get(child))
    return ways


def _in_order(chart: Document) -> tuple[str, ...]:
    """Node names from the root, each after all that lead to it."""
    order: list[str] = []
    nodes: set[str] = set()
    stack: list[tuple[str, bool]] = [(chart["root"], False)]
    while stack:
        name, leaving = stack.pop()
        if leaving:
            order.append(name)
        elif name not in nodes:
            nodes.add(name)
            stack.append((name, True))
            node = chart["nodes"][name]
            below = [node["next"]] if node["kind"] == "setup" else node.get("branches", {}).values()
            stack.extend((child, False) for child in below)
    return tuple(reversed(order))


def of_walk(stage: Stage, walk: Walk) -> GoingOn | None:
    """What going on from the verdict of a walk would take; None where it is an end."""
    node = walk.plan.nodes[walk.node]
    if not isinstance(node, Verdict) or not stage.goes_on(walk.model, node.remedy):
        return None
    prospect = stage.going_on(walk.belief, walk.bench, walk.done, walk.answers)
    return prospect if prospect is not None and stage.tells(walk.model, prospect) else None
