"""Trade rules as a durable-rules ruleset, run forward over facts until nothing new follows.

Rulesets can't be dropped, so a `Chainer` is built once for a set of rules.

durable-rules joins, negates and fires; what concerns a fact alone is decided here (see `matching`),
for it reads numbers, texts and choices with quirks of its own. A fact is told once for each
condition it meets alone, under that condition's name, with a token for each field that other
conditions of the rule compare, and with the number of the rule's instance. What `unless` looks for
is told first, since it must be there before any rule can fire; `kb.language.lint` ensures that no
rule negates what rules of its own step conclude.

One message may enter at most 64 joins and does not meet two conditions of one rule; names that
belong to one condition keep within both. Each join of a ruleset costs each run 8 KB of tables, so
instances share their rule's joins.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from engine.deduce.facts import Cause, ConclusionError, Fact, Findings, Scalar
from engine.deduce.grounding import Instance, whole
from engine.deduce.matching import IS, Condition, TypedValue, take_apart, typed_value
from engine.deduce.ruleset import (
    MOST_PATTERNS,
    EndlessError,
    Match,
    Message,
    Ruleset,
    RulesetError,
    endless,
    spelling,
)
from engine.deduce.templates import conclusion
from kb.language.schema import Rule
from kb.trouble import Place, Trouble, TroubleError

_BESIDE = "beside"


class Chainer:
    """A compiled step of rules. `run` may be called any number of times, not from two threads.

    `standing` facts stand in every run; `instances` may have conditions that they already meet.
    Runs about one unit conclude mostly the same, so what they worked out is kept from one to the
    next; rules without standing facts are run for one unit and then another, and keep nothing.
    """

    def __init__(
        self,
        instances: Iterable[Instance],
        places: Mapping[str, Place],
        standing: Iterable[Fact] = (),
    ) -> None:
        self._places = places
        self._ears = _Ears()
        self._standing = tuple(dict.fromkeys(standing))
        self._instances = tuple(instances)
        self._at_once: list[int] = []
        self._beginnings: list[str] = []
        self._binders: dict[str, list[_Binder]] = {}
        definition: dict[str, list[Message]] = {}
        by_rule: defaultdict[str, list[int]] = defaultdict(list)
        for number, instance in enumerate(self._instances):
            by_rule[instance.rule.id].append(number)
        self._names = {rule: f"r{rank}" for rank, rule in enumerate(by_rule)}
        for rule, numbers in by_rule.items():
            self._compile(self._names[rule], numbers, definition)
        self._ruleset = Ruleset(definition)
        self._lasting = bool(self._standing) and not self._concludes_detail()
        self._memory = _Memory(self._standing, self._ears)
        self._always = [
            number for number in range(len(self._standing))
            if self._memory.hearing(number) is not _UNHEARD
        ]  # fmt: skip

    def run(self, facts: Iterable[Fact]) -> Findings:
        """All that follows from the facts. TroubleError names the rule that could not conclude."""
        memory = self._memory if self._lasting else _Memory(self._standing, self._ears)
        first = len(self._standing)
        firsts: dict[int, int] = {}  # of equal facts the first
        for number in (memory.number(fact) for fact in facts):
            if memory.equal[number] >= first:
                firsts.setdefault(memory.equal[number], number)
        moving = tuple(n for n in firsts.values() if memory.hearing(n) is not _UNHEARD)
        outcome = memory.outcomes.get(moving)
        if outcome is None:
            outcome = memory.outcomes[moving] = self._chain(moving, memory)
        causes = {n: why for n, why in outcome.causes.items() if memory.equal[n] not in firsts}
        return Findings(
            (*self._standing, *(memory.facts[n] for n in (*firsts.values(), *causes))),
            {memory.facts[n]: cause for n, cause in causes.items()},
            outcome.firings,
            first,
        )

    def _chain(self, facts: Iterable[int], memory: _Memory) -> _Outcome:
        run = _Run(memory, len(self._standing), {memory.equal[number] for number in facts})
        for number in self._at_once:
            self._conclude(number, (), run)
        self._fire((*facts, *run.causes), run)
        return _Outcome(run.causes, frozenset(run.firings))

    def _concludes_detail(self) -> bool:
        """Whether a rule writes lists or mappings: facts are equal whatever these hold."""
        return any(
            not isinstance(template, (str, int, float))
            for instance in self._instances
            for clause in instance.rule.then
            for fields in clause.values()
            for template in fields.values()
        )

    def _fire(self, facts: Iterable[int], run: _Run) -> None:
        """Tell durable-rules all facts, those under negation first, and let it fire its rules."""
        hearings = [run.memory.hearing(number) for number in (*self._always, *facts)]
        negations = [message for hearing in hearings for message in hearing.exceptions]
        plain = [message for hearing in hearings for message in hearing.plain]
        plain.extend(self._beginnings)

        def act(name: str, match: Match) -> list[str]:
            return self._act(name, match, run)

        try:
            self._ruleset.run((negations, plain), act)
        except EndlessError as error:
            rule = next(rule for rule, name in self._names.items() if name == error.name)
            raise TroubleError(endless(rule, self._places.get(rule, Place("rules")))) from error
        except RulesetError as error:
            raise TroubleError(
                Trouble("KB303", Place("rules"), f"durable-rules stopped: {error}", "Try again")
            ) from error

    def _compile(self, name: str, numbers: list[int], definition: dict[str, list[Message]]) -> None:
        """Put a rule into the definition; its instances of those `numbers` share its joins."""
        first = self._instances[numbers[0]]
        if not first.unless and all(match is not None for match in first.matches):
            self._at_once.extend(numbers)
            return
        joint = _Joint(name, is_shared=len(numbers) > 1)
        for number in numbers:
            self._binders[name] = self._listen(joint, number)
        if len(joint.patterns) > MOST_PATTERNS:
            raise self._unusable(first.rule, f"it has more than {MOST_PATTERNS} conditions")
        definition[name] = joint.all()

    def _listen(self, joint: _Joint, number: int) -> list[_Binder]:
        """Let each open condition of an instance hear what meets it."""
        instance = self._instances[number]
        rule = instance.rule
        bindings: dict[str, _Binding] = {}
        binders: list[_Binder] = []
        if None not in instance.matches:  # `unless` must stand beside something
            begin = joint.ear(_BESIDE, number, Condition(_BESIDE, (), (), ()), bindings)
            self._beginnings.append(begin.message(-1, {}))
        for place, clause in enumerate(rule.when):
            if instance.matches[place] is None:
                condition = self._condition(rule, clause, instance.values, bindings)
                ear = joint.ear(f"c{place}", number, condition, bindings)
                self._ears.add(ear, is_negated=False)
                binders.append(_Binder(place, f"c{place}", condition.binds))
                for field_name, variable in condition.binds:
                    bindings[variable] = _Binding(f"c{place}", field_name)
        for place, clause in enumerate(instance.unless):
            condition = self._condition(rule, clause, instance.values, bindings)
            self._ears.add(joint.ear(f"u{place}$not", number, condition, bindings), is_negated=True)
        return binders

    def _condition(
        self,
        rule: Rule,
        clause: Mapping[str, Mapping[str, Any]],
        values: Mapping[str, Scalar],
        bindings: Mapping[str, object],
    ) -> Condition:
        try:
            return take_apart(clause, values, frozenset(bindings))
        except (TypeError, ValueError) as error:
            raise self._unusable(rule, str(error)) from error

    def _unusable(self, rule: Rule, why: str) -> TroubleError:
        return TroubleError(
            Trouble(
                "KB304",
                self._places.get(rule.id, Place("rules")),
                f"The conditions of rule '{rule.id}' can't be used: {why}",
                "Ask for values, variables bound earlier, or any, not, above or below; part a long "
                "rule in two",
            )
        )

    def _act(self, name: str, match: Match, run: _Run) -> list[str]:
        """What a rule's firing adds to what is told; `told_of` maps aliases to messages."""
        instance = next(iter(match.values()))["i"]
        matches = tuple(match[binder.alias]["n"] for binder in self._binders[name])
        return [
            message
            for number in self._conclude(instance, matches, run)
            for message in run.memory.hearing(number).plain
        ]

    def _conclude(self, instance: int, matches: tuple[int, ...], run: _Run) -> list[int]:
        """Note what an instance concludes once facts met its open conditions; what is new of it.

        TroubleError if it can't.
        """
        conclusion = run.memory.conclusions.get((instance, matches))
        if conclusion is None:
            conclusion = self._worked_out(self._instances[instance], matches, run.memory)
            run.memory.conclusions[instance, matches] = conclusion
        run.firings.add(conclusion.cause.rule)
        return [number for number in conclusion.facts if run.note(number, conclusion.cause)]

    def _worked_out(
        self, instance: Instance, matches: tuple[int, ...], memory: _Memory
    ) -> _Conclusion:
        rule = instance.rule
        values = dict(instance.values)
        support = list(instance.matches)
        for binder, n in zip(self._binders.get(self._names[rule.id], ()), matches, strict=True):
            fact = memory.facts[n]
            support[binder.place] = fact
            for field_name, variable in binder.binds:
                values.setdefault(variable, fact[field_name])
        facts: list[int] = []
        for clause in rule.then:
            kind, template = next(iter(clause.items()))
            try:
                facts.append(memory.number(conclusion(kind, template, values)))
            except (ArithmeticError, AttributeError, LookupError, TypeError, ValueError) as error:
                trouble = Trouble(
                    "KB301",
                    self._places.get(rule.id, Place("rules")),
                    f"Rule '{rule.id}' could not conclude its '{kind}': {_words(error)}",
                    "Bind the variable in `when`, or mend the text or expression",
                )
                raise ConclusionError(trouble, support) from error
        cause = Cause(rule.id, tuple(fact for fact in support if fact is not None))
        return _Conclusion(tuple(facts), cause)


def _words(error: Exception) -> str:
    return f"it uses {error}, which it does not know" if isinstance(error, KeyError) else str(error)


@dataclass(frozen=True, slots=True)
class _Binder:
    """An open condition: its place in the rule, its alias, and which fields bind variables."""

    place: int
    alias: str
    binds: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class _Binding:
    """Where a variable was bound: the condition's alias, and the field."""

    alias: str
    field: str


@dataclass(frozen=True, slots=True)
class _Hearing:
    """All messages that tell of a fact, to conditions and to what `unless` forbids."""

    plain: tuple[str, ...]
    exceptions: tuple[str, ...]


_UNHEARD = _Hearing((), ())


@dataclass(frozen=True, slots=True)
class _Ear:
    """An open condition of one instance, and which fields its joint compares."""

    name: str
    instance: int
    condition: Condition
    comparisons: set[str]

    def message(self, number: int, tokens: Mapping[str, str]) -> str:
        """What it is told of a fact with those tokens of compared fields; `number` finds it."""
        return spelling({"fact": self.name, "n": number, "i": self.instance, **tokens})


class _Joint:
    """A rule as durable-rules is given it, the same for all its instances."""

    def __init__(self, name: str, *, is_shared: bool) -> None:
        self._name = name
        self._shared = is_shared
        self.patterns: dict[str, list[Message]] = {}
        self._compared: defaultdict[str, set[str]] = defaultdict(set)

    def ear(
        self, alias: str, instance: int, condition: Condition, bindings: Mapping[str, _Binding]
    ) -> _Ear:
        """The ear of a condition; its pattern is the same for every instance."""
        name = f"{self._name}.{alias}"
        tests: list[Message] = [{"fact": name}]
        if self.patterns and self._shared:
            tests.append({"i": {next(iter(self.patterns)): "i"}})
        for own, word, variable in condition.joins:
            other = bindings[variable]
            self._compared[alias].add(own)
            self._compared[other.alias].add(other.field)
            join = {_field(own): {other.alias: _field(other.field)}}
            tests.append(join if word == IS else {"$neq": join})
        self.patterns.setdefault(alias, tests)
        return _Ear(name, instance, condition, self._compared[alias])

    def all(self) -> list[Message]:
        """Its patterns, in order."""
        return [
            {alias: {"$and": tests} if len(tests) > 1 else tests[0]}
            for alias, tests in self.patterns.items()
        ]


def _field(name: str) -> str:
    """A field as durable-rules knows it; some names are its own."""
    return f"_{name}"


_Listeners = list[tuple[bool, _Ear]]  # each with whether it is under `unless`


class _Ears:
    """All ears of a chainer by what they listen for, and the tokens under which values are told."""

    def __init__(self) -> None:
        self._by_value: defaultdict[tuple[str, str, TypedValue], _Listeners] = defaultdict(list)
        self._by_kind: defaultdict[str, _Listeners] = defaultdict(list)
        self._tokens: dict[TypedValue, str] = {}

    def add(self, ear: _Ear, *, is_negated: bool) -> None:
        """Let an ear listen."""
        condition = ear.condition
        equality = next((test for test in condition.tests if test[1] == IS), None)
        if equality is None:
            self._by_kind[condition.kind].append((is_negated, ear))
        else:
            self._by_value[condition.kind, equality[0], equality[2]].append((is_negated, ear))

    def hear(self, fact: Fact, number: int) -> _Hearing:
        """What is told of a fact under its number, once put to the ears that may hear it."""
        own = dict(fact.fields)
        messages: dict[bool, list[str]] = {True: [], False: []}
        for is_negated, ear in self._listeners(fact):
            if ear.condition.met_alone(fact):
                tokens = {_field(name): self._token(own[name]) for name in sorted(ear.comparisons)}
                messages[is_negated].append(ear.message(number, tokens))
        if not messages[True] and not messages[False]:
            return _UNHEARD
        return _Hearing(tuple(messages[False]), tuple(messages[True]))

    def _listeners(self, fact: Fact) -> Iterator[tuple[bool, _Ear]]:
        yield from self._by_kind.get(fact.kind, ())
        for name, value in fact.fields:
            yield from self._by_value.get((fact.kind, name, typed_value(value)), ())

    def _token(self, value: Scalar) -> str:
        return self._tokens.setdefault(typed_value(value), f"v{len(self._tokens)}")


@dataclass(frozen=True, slots=True)
class _Conclusion:
    """What an instance concludes from certain facts: numbers of facts, and why they follow."""

    facts: tuple[int, ...]
    cause: Cause


@dataclass(frozen=True, slots=True)
class _Outcome:
    """What a run concluded, by the numbers of facts, in order."""

    causes: Mapping[int, Cause]
    firings: frozenset[str]


def _strict(fact: Fact) -> tuple[object, ...]:
    """What tells a fact from one that is equal to it but for the sorts of its values."""
    return (fact, *(type(value) for _, value in fact.fields))


class _Memory:
    """Facts under numbers, and what is worked out about them but once.

    `equal` maps a number to that of the first fact equal to it: to Python 1 is True, to rules not.
    """

    def __init__(self, standing: Iterable[Fact], ears: _Ears) -> None:
        self.facts: list[Fact] = list(standing)
        self.conclusions: dict[tuple[int, tuple[int, ...]], _Conclusion] = {}
        self.outcomes: dict[tuple[int, ...], _Outcome] = {}
        self._ears = ears
        self.equal = list(range(len(self.facts)))
        self._first = {fact: number for number, fact in enumerate(self.facts)}
        self._numbers = {_strict(fact): number for number, fact in enumerate(self.facts)}
        self._heard: dict[int, _Hearing] = {}

    def number(self, fact: Fact) -> int:
        """The number of a fact, a new one for one never met before."""
        strict = _strict(fact)
        number = self._numbers.get(strict)
        if number is None:
            number = self._numbers[strict] = len(self.facts)
            self.facts.append(fact)
            self.equal.append(self._first.setdefault(fact, number))
        return number

    def hearing(self, number: int) -> _Hearing:
        """What is told of a fact."""
        hearing = self._heard.get(number)
        if hearing is None:
            hearing = self._heard[number] = self._ears.hear(self.facts[number], number)
        return hearing


@dataclass(frozen=True, slots=True)
class _Run:
    """One forward chaining: what follows, and why. `first` numbers the first fact beyond those
    that stand in every run, `conclusions` are those beyond, each by the first fact equal to it."""

    memory: _Memory
    first: int
    conclusions: set[int]
    causes: dict[int, Cause] = field(default_factory=dict)
    firings: set[str] = field(default_factory=set)

    def note(self, number: int, cause: Cause) -> bool:
        """Note a conclusion; whether it is new."""
        equal = self.memory.equal[number]
        if equal < self.first or equal in self.conclusions:
            return False
        self.conclusions.add(equal)
        self.causes[number] = cause
        return True


def compile_rules(rules: Iterable[Rule], places: Mapping[str, Place]) -> Chainer:
    """A chainer of whole rules, for facts that change as a whole from run to run."""
    return Chainer((whole(rule) for rule in rules), places)
