"""From a unit's facts to everything its rules imply: survey, offer, suppose, conclude.

1. survey: what follows from how the unit is built, hypotheses among it
2. offer: tests, rigs, readings due
3. suppose: each hypothesis is carried through the unit in every trial that a test or the owner's
   use puts it through; a hypothesis that shows nothing in use is latent and dropped
4. conclude: suspicions, remedies, proofs, hazards and cautions

Between steps each quantity is settled: the gravest claim about it goes on, the others end there.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import TypeVar

from engine.deduce.chaining import Chainer, compile_rules
from engine.deduce.composition import Bench, compose
from engine.deduce.facts import Fact, Findings, fact
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
            (MEND, *_constants(knowledge.rules.values(), "rigged", "does"))
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
        tests = list(offer.of("test"))
        trials = self._trials(offer, tests)
        uses: _Uses = {}
        for use in offer.of("use"):
            around = scenes(self.knowledge, use.text("scene").split())
            uses.setdefault(Trial(use.text("energy"), "unit", (), around), []).append(use)
        single = self._hypotheses(survey)
        counter = _Counter(len(single) * (len(uses) + len(set(trials.values()))), progress)
        sound = self._in_use(unit, uses, Supposal("sound"), counter)
        cases: list[tuple[Hypothesis, _Behaviour]] = []
        latent: list[Hypothesis] = []
        firings = set(survey.firings | offer.firings)
        for hypothesis in single:
            behaviour = self._in_use(unit, uses, hypothesis.supposal, counter)
            firings |= behaviour.firings
            pairs = self._pairs(hypothesis, behaviour, single)
            if behaviour.symptoms != sound.symptoms or not hypothesis.acts:
                share = hypothesis.share - sum(pair.share for pair in pairs)
                cases.append((replace(hypothesis, share=share), behaviour))
            else:
                latent.append(hypothesis)
            cases.extend(
                (pair, self._in_use(unit, uses, pair.supposal, counter)) for pair in pairs
            )
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
        facts = [f for f in offer.facts if f.kind != "fault" or f.text("name") in names]
        facts.extend(self._fault_facts(hypotheses))
        facts.extend(
            Fact("in-use", (("fault", name), *symptoms.items()))
            for name, symptoms in exploration.in_use.items()
        )
        if bench.complaint is not None:
            facts.append(fact("complaint", **{"is": bench.complaint}))
        once = self._step("conclude", facts)
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
        built = (topology, replace(bench, complaint=None))  # a unit is built as it is built
        structure = self._structures.get(built)
        if structure is None:
            unit = compose(self.knowledge, self.knowledge.topologies[topology], bench)
            survey = self._step("survey", unit)
            structure = survey, self._step("offer", survey.facts)
            _keep(self._structures, built, structure)
        return structure

    def explain(
        self, deduction: Deduction, test: str, hypothesis: str
    ) -> tuple[Settlement, Fact | None]:
        """Run the one trial behind a cell again and give what it settled, and the claim shown."""
        test_fact = next(f for f in deduction.of("test") if f.text("name") == test)
        trial = self._trials(deduction.once, [test_fact])[test]
        candidate = next(h for h in deduction.hypotheses if h.id == hypothesis)
        goals = frozenset({test_fact.text("looks_at")})
        settlement = self._unit(deduction.unit).suppose(candidate.supposal, trial, goals)
        return settlement, settlement.claims.get((test_fact.text("looks_at"), test_fact.text("at")))

    def _unit(self, structure: tuple[Fact, ...]) -> Unit:
        unit = self._units.get(structure)
        if unit is None:
            unit = Unit(self.knowledge, self._rules["suppose"], self._places, structure)
            _keep(self._units, structure, unit)
        return unit

    def _step(self, step: str, facts: Iterable[Fact]) -> Findings:
        """Run a step; of each quantity only the gravest claim goes on."""
        findings = self._chainers[step].run(facts)
        settlement = settle(self.knowledge, ranks(self.knowledge), findings)
        keep = set(settlement.claims.values())
        kinds = self.knowledge.quantities
        return Findings(
            tuple(f for f in findings.facts if f.kind not in kinds or f in keep),
            findings.causes,
            findings.firings,
        )

    def _trials(self, offer: Findings, tests: Iterable[Fact]) -> dict[str, Trial]:
        rigs = {rig.text("name"): rig for rig in offer.facts if rig.kind == "rig"}
        trials: dict[str, Trial] = {}
        for test in tests:
            fields = dict(test.fields)
            arrangement = self.knowledge.arrangements.get(str(fields["supply"]))
            if arrangement is None:
                raise self._trouble(offer, test, f"needs the unknown supply '{fields['supply']}'")
            rig_name = str(fields["rig"])
            scene = str(fields.get("scene", "")).split()
            rig: tuple[tuple[str, str], ...] = ()
            if rig_name != NO_RIG:
                if rig_name not in rigs:
                    why = f"needs the rig '{rig_name}', which no rule offers"
                    raise self._trouble(offer, test, why)
                rig_fields = dict(rigs[rig_name].fields)
                scene += str(rig_fields.get("scene", "")).split()
                if rig_fields["does"] in self._rigs_that_matter:
                    rig = ((str(rig_fields["does"]), str(rig_fields["on"])),)
            energy = str(fields.get("energy", arrangement.energy))
            feeds = "unit" if "energy" in fields else arrangement.feeds
            trials[str(fields["name"])] = Trial(energy, feeds, rig, scenes(self.knowledge, scene))
        return trials

    def _trouble(self, offer: Findings, test: Fact, what: str) -> TroubleError:
        cause = offer.causes.get(test)
        place = self.knowledge.place("rules", cause.rule if cause is not None else "")
        return TroubleError(
            Trouble("KB302", place, f"Test '{test.text('name')}' {what}", "Mend the offering rule")
        )

    def _hypotheses(self, survey: Findings) -> list[Hypothesis]:
        modes = {(m.text("part"), m.text("name")): m for m in survey.of("mode")}
        parts = {p.text("name"): p for p in survey.of("part")}
        hypotheses: list[Hypothesis] = []
        for fault in survey.of("fault"):
            name, part, acts = fault.text("name"), fault.text("part"), fault.text("acts")
            if part == NO_PART:
                fields = dict(fault.fields)
                light = str(fields.get("light", NO_LIGHT)) if acts == "unlisted" else ""
                says = "something that is not listed" if light else "no fault found"
                hypotheses.append(
                    Hypothesis(
                        name, NO_STAGE, (), (), float(fields.get("share", 1.0)),
                        str(fields.get("says", says)), OTHER if light and name != OTHER else None,
                        unlisted=light,
                    )
                )
                continue
            mode = modes[part, name.removeprefix(f"{part}-")]
            record = parts[part]
            parent = mode.text("parent")
            hypotheses.append(
                Hypothesis(
                    name,
                    fault.text("stage"),
                    ((part, mode.text("name")),),
                    ((part, acts),),
                    record.number("proneness") * record.number("count") * mode.number("share"),
                    f"{record.text('says')}: {mode.text('says')}",
                    f"{part}-{parent}" if parent else None,
                )
            )
        return hypotheses

    def _pairs(
        self, cause: Hypothesis, behaviour: _Behaviour, single: Iterable[Hypothesis]
    ) -> list[Hypothesis]:
        pairs: list[Hypothesis] = []
        for consequence in behaviour.brings:
            part = consequence.text("part")
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
                    (*cause.parts, (part, consequence.text("mode"))),
                    (*cause.acts, (part, consequence.text("acts"))),
                    cause.share * consequence.number("odds"),
                    f"{cause.says}; {label} {consequence.text('says')}",
                    brought=(cause.acts[0][0], part),
                )
            )
        # several parts in line may each go, but never two for one short: the first ends it
        taken_along = sum(pair.share for pair in pairs)
        most = _MOST_TAKEN_ALONG * cause.share
        scale = min(1.0, most / taken_along) if taken_along > 0 else 1.0
        return [replace(pair, share=pair.share * scale) for pair in pairs]

    def _in_use(
        self,
        unit: Unit,
        uses: _Uses,
        supposal: Supposal,
        counter: _Counter,
    ) -> _Behaviour:
        symptoms: dict[str, str] = {}
        brings: dict[Fact, None] = {}
        firings: set[str] = set()
        for trial, trial_uses in uses.items():
            goals = frozenset({"brings", *(use.text("of") for use in trial_uses)})
            settlement = unit.suppose(supposal, trial, goals)
            counter.one()
            for use in trial_uses:
                symptoms[use.text("as")] = value(
                    self.knowledge, settlement, use.text("of"), use.text("at")
                )
            brings.update(dict.fromkeys(settlement.findings.of("brings")))
            firings |= settlement.findings.firings
        return _Behaviour(symptoms, tuple(brings), frozenset(firings))

    def _trial_values(
        self,
        unit: Unit,
        hypotheses: Iterable[Hypothesis],
        tests: list[Fact],
        trials: Mapping[str, Trial],
        counter: _Counter,
    ) -> tuple[dict[tuple[str, str], str], set[str]]:
        values: dict[tuple[str, str], str] = {}
        firings: set[str] = set()
        by_trial: dict[Trial, list[Fact]] = {}
        for test in tests:
            by_trial.setdefault(trials[test.text("name")], []).append(test)
        for hypothesis in hypotheses:
            for trial, trial_tests in by_trial.items():
                goals = frozenset(test.text("looks_at") for test in trial_tests)
                settlement = unit.suppose(hypothesis.supposal, trial, goals)
                counter.one()
                firings |= settlement.findings.firings
                for test in trial_tests:
                    values[test.text("name"), hypothesis.id] = value(
                        self.knowledge, settlement, test.text("looks_at"), test.text("at")
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


def _keep(kept: dict[_Key, _Value], key: _Key, value: _Value) -> None:
    """Keep a value beside the last few."""
    kept[key] = value
    while len(kept) > _MOST_KEPT:
        del kept[next(iter(kept))]


_Key = TypeVar("_Key")
_Value = TypeVar("_Value")
_MOST_KEPT = 8
"""Units that a reasoner has at hand: explored and concluded at one go. Of the algorithm."""
_Uses = dict[Trial, list[Fact]]


@dataclass(frozen=True, slots=True)
class _Behaviour:
    symptoms: Mapping[str, str]
    brings: tuple[Fact, ...]
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
