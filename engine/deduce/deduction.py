"""From a unit's facts to everything its rules imply: survey, offer, suppose, conclude.

1. survey: what follows from how the unit is built, hypotheses among it
2. offer: tests, rigs, readings due
3. suppose: each hypothesis is carried through the unit in every trial that a test or the owner's
   use puts it through; a hypothesis that shows nothing in use is latent and dropped
4. conclude: suspicions, remedies, proofs, hazards and cautions

Between steps each quantity is settled: the gravest claim about it goes on, the others end there.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import TypeVar, cast

from engine.deduce import anatomy, offers
from engine.deduce.chaining import Chainer, compile_rules
from engine.deduce.composition import Bench, compose
from engine.deduce.facts import (
    ConclusionError,
    Fact,
    FieldError,
    Findings,
    V,
    View,
    fact,
    views_of,
)
from engine.deduce.grounding import concluded_kinds, is_met
from engine.deduce.hypotheses import HYPOTHESIS_KINDS, Hypothesis, as_facts, singles, taken_along
from engine.deduce.suppose import (
    MEND,
    MOVING,
    Settlement,
    Supposal,
    Trial,
    Unit,
    ranks,
    scenes,
    settle,
    value,
)
from engine.model.absence import NO_RIG
from engine.model.complaints import complaints_of
from kb.language.knowledge import Knowledge
from kb.language.schema import Rule
from kb.trouble import Trouble, TroubleError

STEPS = ("survey", "offer", "suppose", "conclude")

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Exploration:
    """What supposing every hypothesis in every trial showed.

    `values` maps (test, hypothesis) to the settled value of the quantity the test looks at;
    `in_use` maps a hypothesis to what the owner would see.
    """

    hypotheses: tuple[Hypothesis, ...]
    latent: tuple[Hypothesis, ...]
    values: Mapping[tuple[str, str], str] = field(repr=False)
    in_use: Mapping[str, Mapping[str, str]] = field(repr=False)
    firings: frozenset[str] = field(repr=False)


@dataclass(frozen=True, slots=True)
class Deduction:
    """What the rules imply for one unit on one bench; see `Exploration` for `values`."""

    knowledge: Knowledge = field(repr=False)
    unit: tuple[Fact, ...] = field(repr=False)
    once: Findings = field(repr=False)
    hypotheses: tuple[Hypothesis, ...]
    latent: tuple[Hypothesis, ...]
    values: Mapping[tuple[str, str], str] = field(repr=False)
    firings: frozenset[str] = field(repr=False)
    _views: dict[type[View], tuple[View, ...]] = field(
        default_factory=dict, init=False, compare=False, repr=False
    )

    def of(self, kind: str) -> tuple[Fact, ...]:
        """All facts of a kind that stand once, in order."""
        return tuple(self.once.of(kind))

    def all(self, view: type[V]) -> tuple[V, ...]:
        """All facts of a view's kind that stand once, in order."""
        if view not in self._views:
            self._views[view] = tuple(self.once.all(view))
        return cast("tuple[V, ...]", self._views[view])


class Reasoner:
    """Compiled steps of one knowledge base; deduces for any of its topologies."""

    def __init__(self, knowledge: Knowledge, without_rules: frozenset[str] = frozenset()) -> None:
        self.knowledge = knowledge
        self._places = {rule: knowledge.place("rules", rule) for rule in knowledge.rules}
        self._rules = {
            step: tuple(
                rule for rule in knowledge.rules.values()
                if rule.step == step and rule.id not in without_rules
            )
            for step in STEPS
        }
        self._chainers = {step: self._chainer(step) for step in STEPS if step != "suppose"}
        self._units: dict[tuple[Fact, ...], Unit] = {}
        self._structures: dict[tuple[str, Bench], tuple[Findings, Findings]] = {}
        self._rigs_that_matter = frozenset(
            (
                MEND,
                *(word.doing for word in knowledge.doings.values() if word.overcomes),
                *_constants(knowledge.rules.values(), "rigged", "does"),
            )
        )

    def _chainer(self, step: str) -> Chainer:
        return compile_rules(self._rules[step], self._places)

    def deduce(self, topology: str, bench: Bench, progress: Progress | None = None) -> Deduction:
        """Everything implied. TroubleError for knowledge that doesn't fit together."""
        return self.conclude(topology, bench, self.explore(topology, bench, progress))

    def explore(
        self, topology: str, bench: Bench, progress: Progress | None = None
    ) -> Exploration:
        """Carry every hypothesis through every trial: the long part, the same for any complaint."""
        survey, offer = self._structure(topology, bench)
        unit = self._unit(offer.facts)
        tests = list(offer.all(offers.Test))
        trials = self._trials(offer, tests)
        uses: _Uses = {}
        for use in offer.all(anatomy.Use):
            around = scenes(self.knowledge, use.scene.split())
            uses.setdefault(Trial(use.energy, "unit", (), around), []).append(use)
        with self._refusal(topology, survey):
            single = singles(survey)
        counter = _Counter(len(single) * (len(uses) + len(set(trials.values()))), progress)
        in_use = self._behaviours(topology, unit, uses, counter)
        sound = in_use(Supposal("sound"))
        cases: list[tuple[Hypothesis, _Behaviour]] = []
        latent: list[Hypothesis] = []
        firings = set(survey.firings | offer.firings)
        for hypothesis in single:
            behaviour = in_use(hypothesis.supposal)
            firings |= behaviour.firings
            pairs = taken_along(hypothesis, behaviour.brings, single)
            if behaviour.symptoms != sound.symptoms or not hypothesis.acts:
                share = hypothesis.share - sum(pair.share for pair in pairs)
                cases.append((replace(hypothesis, share=share), behaviour))
            else:
                latent.append(hypothesis)
            cases.extend(_joint_cases(pairs, behaviour, single, in_use))
        hypotheses = tuple(hypothesis for hypothesis, _ in cases)
        values, fired_in_trials = self._trial_values(unit, hypotheses, tests, trials, counter)
        return Exploration(
            hypotheses,
            tuple(latent),
            values,
            {hypothesis.id: behaviour.symptoms for hypothesis, behaviour in cases},
            frozenset(firings | fired_in_trials),
        )

    def conclude(self, topology: str, bench: Bench, exploration: Exploration) -> Deduction:
        """Suspicions from the complaint, remedies, proofs, hazards and cautions."""
        survey, offer = self._structure(topology, bench)
        hypotheses = exploration.hypotheses
        names = {hypothesis.id for hypothesis in hypotheses}
        latent_facts = {fault.fact for fault in offer.all(anatomy.Fault) if fault.name not in names}
        facts = [item for item in offer.facts if item not in latent_facts]
        facts.extend(as_facts(hypotheses))
        facts.extend(
            Fact("in-use", (("fault", name), *symptoms.items()))
            for name, symptoms in exploration.in_use.items()
        )
        facts.extend(fact("complaint", **{"is": one}) for one in complaints_of(bench.complaint))
        once = self._step("conclude", facts, topology)
        return Deduction(
            self.knowledge,
            offer.facts,
            Findings(once.facts, {**survey.causes, **offer.causes, **once.causes}, once.firings),
            hypotheses,
            exploration.latent,
            exploration.values,
            exploration.firings | once.firings,
        )

    def survey(self, topology: str, bench: Bench) -> tuple[Findings, Findings]:
        """What follows from how the unit is built: after the step survey, and after offer."""
        return self._structure(topology, bench)

    def _structure(self, topology: str, bench: Bench) -> tuple[Findings, Findings]:
        key = (topology, replace(bench, complaint=None))  # a unit is built as it is built
        structure = self._structures.get(key)
        if structure is None:
            unit = compose(self.knowledge, self.knowledge.topologies[topology], bench)
            survey = self._step("survey", unit, topology)
            structure = survey, self._step("offer", survey.facts, topology)
            _keep(self._structures, key, structure)
        return structure

    def may_fire(self, rule: Rule, topology: str, bench: Bench) -> bool:
        """Whether a rule could fire in a unit on a bench; False only where it can't.

        Told by how the unit is built, without a single supposition. TroubleError as `deduce`.
        """
        survey, offer = self._structure(topology, bench)
        if rule.step not in _MOVING:
            return rule.id in survey.firings | offer.firings
        moving = _MOVING[rule.step] | concluded_kinds(self._rules[rule.step])
        return is_met(rule, offer.facts, moving)

    def explain(
        self, deduction: Deduction, test: str, hypothesis: str
    ) -> tuple[Settlement, Fact | None]:
        """Run the one trial behind a cell again and give what it settled, and the claim shown."""
        offer = next(offer for offer in deduction.all(offers.Test) if offer.name == test)
        trial = self._trials(deduction.once, [offer])[test]
        candidate = next(h for h in deduction.hypotheses if h.id == hypothesis)
        goals = frozenset({offer.looks_at})
        settlement = self._unit(deduction.unit).suppose(candidate.supposal, trial, goals)
        return settlement, settlement.claims.get((offer.looks_at, offer.at))

    def _unit(self, structure: tuple[Fact, ...]) -> Unit:
        unit = self._units.get(structure)
        if unit is None:
            unit = Unit(self.knowledge, self._rules["suppose"], self._places, structure)
            _keep(self._units, structure, unit)
        return unit

    def _step(self, step: str, facts: Iterable[Fact], topology: str) -> Findings:
        """Run a step; of each quantity only the gravest claim goes on.

        TroubleError if a conclusion lacks what its kind always has, so that whoever reads it later
        need not ask.
        """
        try:
            findings = self._chainers[step].run(facts)
        except ConclusionError as error:
            raise TroubleError(
                [self._of_the_unit(trouble, error.facts, topology) for trouble in error.troubles]
            ) from error
        with self._refusal(topology, findings):
            for conclusion in findings.causes:
                if (view := _VIEWS.get(conclusion.kind)) is not None:
                    view.of(conclusion)
        settlement = settle(self.knowledge, ranks(self.knowledge), findings)
        keep = set(settlement.claims.values())
        kinds = self.knowledge.quantities
        return Findings(
            tuple(f for f in findings.facts if f.kind not in kinds or f in keep),
            findings.causes,
            findings.firings,
        )

    def _of_the_unit(self, trouble: Trouble, facts: Iterable[Fact], topology: str) -> Trouble:
        """A shipped rule that stumbles over a unit of one's own is told at the unit's line."""
        rule_is_own = any(
            trouble.place == self.knowledge.place(section, name)
            for section, name in self.knowledge.own if section == "rules"
        )  # fmt: skip
        if rule_is_own or ("topologies", topology) not in self.knowledge.own:
            return trouble
        part = next(views_of(anatomy.Part, facts), None)
        path = () if part is None else ("stages", part.stage, "parts", part.name)
        place = self.knowledge.at("topologies", topology, *path)
        return replace(
            trouble, place=place, what=f"In {topology}: {trouble.what}",
            mend="Look at the value and rating of this part",
        )  # fmt: skip

    @contextmanager
    def _refusal(self, topology: str, findings: Findings) -> Iterator[None]:
        """Tells a fact that lacks a field, met within, as a trouble of the rule that made it."""
        try:
            yield
        except FieldError as error:
            cause = findings.causes.get(error.fact)
            rule = cause.rule if cause is not None else ""
            raise TroubleError(
                Trouble(
                    "KB306", self.knowledge.place("rules", rule),
                    f"In {topology}, rule '{rule}' concludes '{error.fact}' {error.why}",
                    f"Let that conclusion give `{error.field}:` of the sort that its kind has",
                )
            ) from error

    def _trials(self, offer: Findings, tests: Iterable[offers.Test]) -> dict[str, Trial]:
        rigs = {rig.name: rig for rig in offer.all(offers.Rig)}
        trials: dict[str, Trial] = {}
        for test in tests:
            arrangement = self.knowledge.arrangements.get(test.supply)
            if arrangement is None:
                raise self._trouble(offer, test, f"needs the unknown supply '{test.supply}'")
            scene = test.scene.split()
            fitting: tuple[tuple[str, str], ...] = ()
            if test.rig != NO_RIG:
                rig = rigs.get(test.rig)
                if rig is None:
                    why = f"needs the rig '{test.rig}', which no rule offers"
                    raise self._trouble(offer, test, why)
                scene += rig.scene.split()
                if rig.does in self._rigs_that_matter:
                    fitting = ((rig.does, rig.on),)
            energy = arrangement.energy if test.energy is None else test.energy
            feeds = arrangement.feeds if test.energy is None else "unit"
            trials[test.name] = Trial(energy, feeds, fitting, scenes(self.knowledge, scene))
        return trials

    def _trouble(self, offer: Findings, test: offers.Test, what: str) -> TroubleError:
        cause = offer.causes.get(test.fact)
        place = self.knowledge.place("rules", cause.rule if cause is not None else "")
        return TroubleError(
            Trouble("KB302", place, f"Test '{test.name}' {what}", "Mend the offering rule")
        )

    def _behaviours(
        self, topology: str, unit: Unit, uses: _Uses, counter: _Counter
    ) -> Callable[[Supposal], _Behaviour]:
        """What the owner would see of a unit, and which parts a fault takes along, by supposal."""

        def in_use(supposal: Supposal) -> _Behaviour:
            symptoms: dict[str, str] = {}
            brings: dict[anatomy.Consequence, None] = {}
            firings: set[str] = set()
            for trial, trial_uses in uses.items():
                goals = frozenset({anatomy.Consequence.kind, *(use.quantity for use in trial_uses)})
                settlement = unit.suppose(supposal, trial, goals)
                counter.one()
                for use in trial_uses:
                    symptoms[use.symptom] = value(
                        self.knowledge, settlement, use.quantity, use.at
                    )
                with self._refusal(topology, settlement.findings):
                    brings.update(dict.fromkeys(settlement.findings.all(anatomy.Consequence)))
                firings |= settlement.findings.firings
            return _Behaviour(symptoms, tuple(brings), frozenset(firings))

        return in_use

    def _trial_values(
        self,
        unit: Unit,
        hypotheses: Iterable[Hypothesis],
        tests: list[offers.Test],
        trials: Mapping[str, Trial],
        counter: _Counter,
    ) -> tuple[dict[tuple[str, str], str], set[str]]:
        values: dict[tuple[str, str], str] = {}
        firings: set[str] = set()
        by_trial: dict[Trial, list[offers.Test]] = {}
        for test in tests:
            by_trial.setdefault(trials[test.name], []).append(test)
        for hypothesis in hypotheses:
            for trial, trial_tests in by_trial.items():
                goals = frozenset(test.looks_at for test in trial_tests)
                settlement = unit.suppose(hypothesis.supposal, trial, goals)
                counter.one()
                firings |= settlement.findings.firings
                for test in trial_tests:
                    values[test.name, hypothesis.id] = value(
                        self.knowledge, settlement, test.looks_at, test.at
                    )
        return values, firings


def _keep(values: dict[_Key, _Value], key: _Key, value: _Value) -> None:
    """Keep a value beside the last few."""
    values[key] = value
    while len(values) > _MOST_KEPT:
        del values[next(iter(values))]


_Key = TypeVar("_Key")
_Value = TypeVar("_Value")
_MOST_KEPT = 8
"""Units that a reasoner has at hand: explored and concluded at one go. Of the algorithm."""
_MOVING = {
    "suppose": MOVING,
    # what `conclude` adds to a unit, and what it takes out of it
    "conclude": frozenset({*HYPOTHESIS_KINDS, "in-use", "complaint"}),
}
"""Kinds of fact that a step is given beyond those that stand before it."""
_VIEWS: Mapping[str, type[View]] = {
    view.kind: view for view in (*anatomy.VIEWS, *offers.VIEWS)
}
_Uses = dict[Trial, list[anatomy.Use]]


@dataclass(frozen=True, slots=True)
class _Behaviour:
    symptoms: Mapping[str, str]
    brings: tuple[anatomy.Consequence, ...]
    firings: frozenset[str]


def _joint_cases(
    pairs: Iterable[Hypothesis],
    alone: _Behaviour,
    single: Iterable[Hypothesis],
    in_use: Callable[[Supposal], _Behaviour],
) -> Iterator[tuple[Hypothesis, _Behaviour]]:
    """Each pair with what it shows, and what its second part takes along in its turn.

    What the cause `alone` might have taken along as well is no turn: that ends with the first.
    """
    for pair in pairs:
        behaviour = in_use(pair.supposal)
        later = [own for own in behaviour.brings if own not in alone.brings]
        trios = taken_along(pair, later, single)
        share = pair.share - sum(trio.share for trio in trios)
        yield replace(pair, share=share), behaviour
        for trio in trios:
            yield trio, in_use(trio.supposal)


class _Counter:
    """Tells how many suppositions are done, of about how many."""

    def __init__(self, total: int, progress: Progress | None) -> None:
        self._total, self._progress, self._done = total, progress, 0

    def one(self) -> None:
        self._done += 1
        if self._progress is not None:
            self._progress(self._done, max(self._total, self._done))


def _constants(rules: Iterable[Rule], kind: str, name: str) -> Iterable[str]:
    """The plain values rules compare a field of a kind of fact with."""
    for rule in rules:
        for clause in (*rule.when, *rule.unless):
            operand = clause.get(kind, {}).get(name)
            if isinstance(operand, str) and not operand.startswith("$"):
                yield operand
