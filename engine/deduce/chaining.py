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
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from engine.deduce.facts import Cause, Fact, Findings, Scalar
from engine.deduce.grounding import Instance, whole
from engine.deduce.matching import IS, Condition, Told, take_apart, told
from engine.deduce.ruleset import MOST_PATTERNS, Message, Met, Ruleset, RulesetError
from engine.deduce.templates import fill
from kb.language.schema import Rule
from kb.trouble import Place, Trouble, TroubleError

_BESIDE = "beside"


class Chainer:
    """A compiled step of rules. `run` may be called any number of times, not from two threads.

    `standing` facts stand in every run; `instances` may have conditions that they already meet.
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
        self._numbers = {found: number for number, found in enumerate(self._standing)}
        self._instances = tuple(instances)
        self._at_once: list[Instance] = []
        self._beginnings: list[_Telling] = []
        self._binders: dict[str, list[_Binder]] = {}
        definition: dict[str, list[Message]] = {}
        by_rule: defaultdict[str, list[int]] = defaultdict(list)
        for number, instance in enumerate(self._instances):
            by_rule[instance.rule.id].append(number)
        for rank, numbers in enumerate(by_rule.values()):
            self._compile(f"r{rank}", numbers, definition)
        self._ruleset = Ruleset(definition)
        self._always = [
            (number, heard)
            for number, found in enumerate(self._standing)
            if (heard := self._ears.heard(found)) != _UNHEARD
        ]

    def run(self, facts: Iterable[Fact]) -> Findings:
        """All that follows from the facts. TroubleError names the rule that could not conclude."""
        run = _Run(list(self._standing), dict(self._numbers))
        for found in facts:
            if found not in run.numbers:
                run.note(found)
        for instance in self._at_once:
            self._conclude(instance, instance.values, instance.met, run)
        self._fire(run)
        return Findings(tuple(run.facts), run.causes, frozenset(run.fired))

    def _fire(self, run: _Run) -> None:
        """Tell durable-rules all facts, those under negation first, and let it fire its rules."""
        first = len(self._standing)
        new = enumerate(run.facts[first:], first)
        heard = [*self._always, *((number, self._ears.heard(found)) for number, found in new)]
        negated = [_message(t, number) for number, known in heard for t in known.negated]
        plain = [_message(t, number) for number, known in heard for t in known.plain]
        plain.extend(_message(beginning, -1) for beginning in self._beginnings)

        def act(name: str, met: Met) -> list[Message]:
            return self._act(name, met, run)

        try:
            self._ruleset.run((negated, plain), act)
        except RulesetError as error:
            raise TroubleError(
                Trouble("KB303", Place("rules"), f"durable-rules stopped: {error}", "Try again")
            ) from error

    def _compile(self, name: str, numbers: list[int], definition: dict[str, list[Message]]) -> None:
        """Put a rule into the definition; its instances of those `numbers` share its joins."""
        first = self._instances[numbers[0]]
        if not first.unless and all(met is not None for met in first.met):
            self._at_once.extend(self._instances[number] for number in numbers)
            return
        joint = _Joint(name, shared=len(numbers) > 1)
        for number in numbers:
            self._binders[name] = self._listen(joint, number)
        if len(joint.patterns) > MOST_PATTERNS:
            raise self._unusable(first.rule, f"it has more than {MOST_PATTERNS} conditions")
        definition[name] = joint.all()

    def _listen(self, joint: _Joint, number: int) -> list[_Binder]:
        """Let each open condition of an instance hear what meets it."""
        instance = self._instances[number]
        rule = instance.rule
        bound: dict[str, _Bound] = {}
        binders: list[_Binder] = []
        if all(met is not None for met in instance.met):  # `unless` must stand beside something
            begin = joint.ear(_BESIDE, number, Condition(_BESIDE, (), (), ()), bound)
            self._beginnings.append(begin.telling({}))
        for place, clause in enumerate(rule.when):
            if instance.met[place] is None:
                condition = self._condition(rule, clause, instance.values, bound)
                ear = joint.ear(f"c{place}", number, condition, bound)
                self._ears.add(ear, negated=False)
                binders.append(_Binder(place, f"c{place}", condition.binds))
                bound.update({var: _Bound(f"c{place}", field) for field, var in condition.binds})
        for place, clause in enumerate(instance.unless):
            condition = self._condition(rule, clause, instance.values, bound)
            self._ears.add(joint.ear(f"u{place}$not", number, condition, bound), negated=True)
        return binders

    def _condition(
        self,
        rule: Rule,
        clause: Mapping[str, Mapping[str, Any]],
        values: Mapping[str, Scalar],
        bound: Mapping[str, object],
    ) -> Condition:
        try:
            return take_apart(clause, values, frozenset(bound))
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

    def _act(self, name: str, told_of: Met, run: _Run) -> list[Message]:
        """What a rule's firing adds to what is told; `told_of` maps aliases to messages."""
        instance = self._instances[next(iter(told_of.values()))["i"]]
        values = dict(instance.values)
        stood_on = list(instance.met)
        for binder in self._binders[name]:
            found = run.facts[told_of[binder.alias]["n"]]
            stood_on[binder.place] = found
            for field, variable in binder.binds:
                values.setdefault(variable, found[field])
        return [
            _message(telling, run.numbers[found])
            for found in self._conclude(instance, values, stood_on, run)
            for telling in self._ears.heard(found).plain
        ]

    def _conclude(
        self,
        instance: Instance,
        values: Mapping[str, Scalar],
        stood_on: Sequence[Fact | None],
        run: _Run,
    ) -> list[Fact]:
        """Note what the rule concludes and give what is new of it. TroubleError if it can't."""
        rule = instance.rule
        new: list[Fact] = []
        run.fired.add(rule.id)
        for clause in rule.then:
            kind, template = next(iter(clause.items()))
            try:
                found = _fill(kind, template, values)
            except (ArithmeticError, AttributeError, LookupError, TypeError, ValueError) as error:
                raise TroubleError(
                    Trouble(
                        "KB301",
                        self._places.get(rule.id, Place("rules")),
                        f"Rule '{rule.id}' could not conclude its '{kind}': {_words(error)}",
                        "Bind the variable in `when`, or mend the text or expression",
                    )
                ) from error
            if found not in run.numbers:
                run.note(found)
                run.causes[found] = Cause(rule.id, tuple(f for f in stood_on if f is not None))
                new.append(found)
        return new


def _message(telling: _Telling, number: int) -> Message:
    """What durable-rules is told; `number` finds the fact again."""
    return {"fact": telling.name, "n": number, **telling.fields}


def _words(error: Exception) -> str:
    return f"it uses {error}, which it does not know" if isinstance(error, KeyError) else str(error)


@dataclass(frozen=True, slots=True)
class _Binder:
    """An open condition: its place in the rule, its alias, and which fields bind variables."""

    place: int
    alias: str
    binds: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class _Bound:
    """Where a variable was bound: the condition's alias, and the field."""

    alias: str
    field: str


@dataclass(frozen=True, slots=True)
class _Telling:
    """The name a fact is told under, and what goes with it."""

    name: str
    fields: Mapping[str, object]


@dataclass(frozen=True, slots=True)
class _Heard:
    """All that a fact is told as, to conditions and to what `unless` forbids."""

    plain: tuple[_Telling, ...]
    negated: tuple[_Telling, ...]


_UNHEARD = _Heard((), ())


@dataclass(frozen=True, slots=True)
class _Ear:
    """An open condition of one instance, and which fields its joint compares."""

    name: str
    instance: int
    condition: Condition
    compared: set[str]

    def telling(self, tokens: Mapping[str, str]) -> _Telling:
        """What it is told of a fact with those tokens of compared fields."""
        return _Telling(self.name, {"i": self.instance, **tokens})


class _Joint:
    """A rule as durable-rules is given it, the same for all its instances."""

    def __init__(self, name: str, *, shared: bool) -> None:
        self._name = name
        self._shared = shared
        self.patterns: dict[str, list[Message]] = {}
        self._compared: defaultdict[str, set[str]] = defaultdict(set)

    def ear(
        self, alias: str, instance: int, condition: Condition, bound: Mapping[str, _Bound]
    ) -> _Ear:
        """The ear of a condition; its pattern is the same for every instance."""
        name = f"{self._name}.{alias}"
        tests: list[Message] = [{"fact": name}]
        if self.patterns and self._shared:
            tests.append({"i": {next(iter(self.patterns)): "i"}})
        for field, word, variable in condition.joins:
            other = bound[variable]
            self._compared[alias].add(field)
            self._compared[other.alias].add(other.field)
            joined = {_field(field): {other.alias: _field(other.field)}}
            tests.append(joined if word == IS else {"$neq": joined})
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


class _Ears:
    """All ears of a chainer by what they listen for, and the tokens under which values are told."""

    def __init__(self) -> None:
        self._by_value: defaultdict[tuple[str, str, Told], list[tuple[bool, _Ear]]] = defaultdict(
            list
        )
        self._by_kind: defaultdict[str, list[tuple[bool, _Ear]]] = defaultdict(list)
        self._tokens: dict[Told, str] = {}
        self._heard: dict[Fact, _Heard] = {}

    def add(self, ear: _Ear, *, negated: bool) -> None:
        """Let an ear listen."""
        condition = ear.condition
        fixed = next((test for test in condition.tests if test[1] == IS), None)
        if fixed is None:
            self._by_kind[condition.kind].append((negated, ear))
        else:
            self._by_value[condition.kind, fixed[0], fixed[2]].append((negated, ear))

    def heard(self, found: Fact) -> _Heard:
        """What a fact is told as. The first time it is put to the ears that may hear it."""
        known = self._heard.get(found)
        if known is None:
            known = self._heard[found] = self._listen(found)
        return known

    def _listen(self, found: Fact) -> _Heard:
        own = dict(found.fields)
        heard: dict[bool, list[_Telling]] = {True: [], False: []}
        for negated, ear in self._listeners(found):
            if ear.condition.met_alone(found):
                tokens = {_field(name): self._token(own[name]) for name in sorted(ear.compared)}
                heard[negated].append(ear.telling(tokens))
        return _Heard(tuple(heard[False]), tuple(heard[True]))

    def _listeners(self, found: Fact) -> Iterator[tuple[bool, _Ear]]:
        yield from self._by_kind.get(found.kind, ())
        for name, value in found.fields:
            yield from self._by_value.get((found.kind, name, told(value)), ())

    def _token(self, value: Scalar) -> str:
        return self._tokens.setdefault(told(value), f"v{len(self._tokens)}")


class _Run:
    """One forward chaining: what is known, and why."""

    def __init__(self, facts: list[Fact], numbers: dict[Fact, int]) -> None:
        self.facts = facts
        self.numbers = numbers
        self.causes: dict[Fact, Cause] = {}
        self.fired: set[str] = set()

    def note(self, found: Fact) -> None:
        self.numbers[found] = len(self.facts)
        self.facts.append(found)


def compiled(rules: Iterable[Rule], places: Mapping[str, Place]) -> Chainer:
    """A chainer of whole rules, for facts that change as a whole from run to run."""
    return Chainer((whole(rule) for rule in rules), places)


def _fill(kind: str, template: Mapping[str, Any], values: Mapping[str, Scalar]) -> Fact:
    fields: list[tuple[str, Scalar]] = []
    detail: dict[str, object] = {}
    for name, wanted in template.items():
        filled = fill(wanted, values)
        if isinstance(filled, (str, int, float, bool)):
            fields.append((name, filled))
        else:
            detail[name] = filled
    return Fact(kind, tuple(fields), detail)
