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

from engine.deduce import anatomy, offers
from engine.deduce.chaining import compile_rules
from engine.deduce.composition import Bench, compose
from engine.deduce.facts import Fact, FieldError, Findings, V, View, fact
from engine.deduce.suppose import (
    MEND,
    Settlement,
    Supposal,
    Trial,
    Unit,
    ranks,
    scenes,
    settle,
    value,
)
from engine.model.absence import NO_LIGHT, NO_PART, NO_RIG, NO_STAGE
from kb.language.knowledge import Knowledge
from kb.language.schema import Rule
from kb.trouble import Trouble, TroubleError

OTHER = "other"
"""What is not listed, as one fault; what else is not listed is a variant of it."""
STEPS = ("survey", "offer", "suppose", "conclude")
_MOST_TAKEN_ALONG = 0.95
"""All that a short takes along is at most this share of it, so that it can always stand alone: no
rule of the trade makes a second loss certain. Our choice."""

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """A supposed fault. `brought` names the hypothesis whose short or surge took a part along."""

    id: str
    stage: str
    parts: tuple[tuple[str, str], ...]
    acts: tuple[tuple[str, str], ...]
    share: float
    says: str
    variant_of: str | None = None
    unlisted: str = ""
    brought: tuple[str, str] | None = None

    @property
    def supposal(self) -> Supposal:
        """How its parts act."""
        return Supposal(self.id, self.acts, self.unlisted)


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

    def of(self, kind: str) -> tuple[Fact, ...]:
        """All facts of a kind that stand once, in order."""
        return tuple(self.once.of(kind))

    def all(self, view: type[V]) -> tuple[V, ...]:
        """All facts of a view's kind that stand once, in order."""
        return tuple(self.once.all(view))


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
        self._chainers = {
            step: compile_rules(self._rules[step], self._places)
            for step in STEPS if step != "suppose"
        }
        self._units: dict[tuple[Fact, ...], Unit] = {}
        self._rigs_that_matter = frozenset(
            (MEND, *_constants(knowledge.rules.values(), "rigged", "does"))
        )

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
        single = self._hypotheses(survey)
        counter = _Counter(len(single) * (len(uses) + len(set(trials.values()))), progress)
        in_use = self._behaviours(topology, unit, uses, counter)
        sound = in_use(Supposal("sound"))
        cases: list[tuple[Hypothesis, _Behaviour]] = []
        latent: list[Hypothesis] = []
        firings = set(survey.firings | offer.firings)
        for hypothesis in single:
            behaviour = in_use(hypothesis.supposal)
            firings |= behaviour.firings
            pairs = self._pairs(hypothesis, behaviour, single)
            if behaviour.symptoms != sound.symptoms or not hypothesis.acts:
                share = hypothesis.share - sum(pair.share for pair in pairs)
                cases.append((replace(hypothesis, share=share), behaviour))
            else:
                latent.append(hypothesis)
            cases.extend((pair, in_use(pair.supposal)) for pair in pairs)
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
        gone = {fault.fact for fault in offer.all(anatomy.Fault) if fault.name not in names}
        facts = [item for item in offer.facts if item not in gone]
        facts.extend(self._fault_facts(hypotheses))
        facts.extend(
            Fact("in-use", (("fault", name), *symptoms.items()))
            for name, symptoms in exploration.in_use.items()
        )
        if bench.complaint is not None:
            facts.append(fact("complaint", **{"is": bench.complaint}))
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
        unit = compose(self.knowledge, self.knowledge.topologies[topology], bench)
        survey = self._step("survey", unit, topology)
        return survey, self._step("offer", survey.facts, topology)

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
        if structure not in self._units:
            self._units[structure] = Unit(
                self.knowledge, self._rules["suppose"], self._places, structure
            )
        return self._units[structure]

    def _step(self, step: str, facts: Iterable[Fact], topology: str) -> Findings:
        """Run a step; of each quantity only the gravest claim goes on.

        TroubleError if a conclusion lacks what its kind always has, so that whoever reads it later
        need not ask.
        """
        findings = self._chainers[step].run(facts)
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

    def _hypotheses(self, survey: Findings) -> list[Hypothesis]:
        modes = {(mode.part, mode.name): mode for mode in survey.all(anatomy.Mode)}
        parts = {part.name: part for part in survey.all(anatomy.Part)}
        hypotheses: list[Hypothesis] = []
        for fault in survey.all(anatomy.Fault):
            name, part = fault.name, fault.part
            if part == NO_PART:
                hypotheses.append(_of_no_part(fault))
                continue
            mode = modes[part, name.removeprefix(f"{part}-")]
            record = parts[part]
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

    def _pairs(
        self, cause: Hypothesis, behaviour: _Behaviour, single: Iterable[Hypothesis]
    ) -> list[Hypothesis]:
        pairs: list[Hypothesis] = []
        for consequence in behaviour.brings:
            part = consequence.part
            if part == cause.acts[0][0] if cause.acts else True:
                continue
            second = next((h for h in single if h.acts and h.acts[0][0] == part), None)
            if second is None:
                continue
            label = second.says.partition(":")[0]
            pairs.append(
                Hypothesis(
                    f"{cause.id}-took-{part}",
                    cause.stage,
                    (*cause.parts, (part, consequence.mode)),
                    (*cause.acts, (part, consequence.acts)),
                    cause.share * consequence.odds,
                    f"{cause.says}; {label} {consequence.says}",
                    brought=(cause.acts[0][0], part),
                )
            )
        # several parts in line may each go, but never two for one short: the first ends it
        taken_along = sum(pair.share for pair in pairs)
        most = _MOST_TAKEN_ALONG * cause.share
        scale = min(1.0, most / taken_along) if taken_along > 0 else 1.0
        return [replace(pair, share=pair.share * scale) for pair in pairs]

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

    def _fault_facts(self, hypotheses: Iterable[Hypothesis]) -> Iterable[Fact]:
        for hypothesis in hypotheses:
            if hypothesis.brought is not None:
                first, second = hypothesis.brought
                yield fact(
                    "fault", name=hypothesis.id, part=first, stage=hypothesis.stage,
                    acts=hypothesis.acts[0][1], joint="joint",
                )
                yield fact("pair", fault=hypothesis.id, first=first, second=second)


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


_VIEWS: Mapping[str, type[View]] = {
    view.kind: view for view in (*anatomy.VIEWS, *offers.VIEWS)
}
_Uses = dict[Trial, list[anatomy.Use]]


@dataclass(frozen=True, slots=True)
class _Behaviour:
    symptoms: Mapping[str, str]
    brings: tuple[anatomy.Consequence, ...]
    firings: frozenset[str]


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
