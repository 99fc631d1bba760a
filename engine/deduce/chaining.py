"""Trade rules as a durable-rules ruleset, run forward over facts until nothing new follows.

This is the only module that knows durable-rules. Its rulesets are process-global and can't be
dropped, so a `Chainer` is built once for a set of rules; every run has a session of its own.

durable-rules joins, negates and fires; what concerns a fact alone is decided here (see `matching`),
for it reads numbers, texts and choices with quirks of its own. Each set of tests that conditions
put to a kind of fact is a *sieve*; a fact is told once for each sieve it passes, with a token for
each field that other conditions of the rule compare. What `unless` looks for has sieves of its own
and is told first, since it must be there before any rule can fire; `kb.lint` ensures that no rule
negates what rules of its own step conclude. One message may enter at most 64 joins, and must not
meet two conditions of one rule, so a sieve has as many names as that takes.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from durable.engine import Ruleset

from engine.deduce.facts import Cause, Fact, Findings, Scalar
from engine.deduce.grounding import Instance, whole
from engine.deduce.matching import IS, Condition, Test, Told, take_apart, told
from engine.deduce.templates import fill
from kb.schema import Rule
from kb.trouble import Place, Trouble, TroubleError

_names = itertools.count(1)
_JOINS_PER_NAME = 40
_BEGIN = "begin"
_Message = dict[str, Any]


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
        self._sieves = _Sieves()
        self._standing = tuple(dict.fromkeys(standing))
        self._numbers = {found: number for number, found in enumerate(self._standing)}
        self._run = _Run("0", [], {})
        self._sessions = itertools.count(1)
        self._at_once: list[Instance] = []
        self._begins = False
        definition: dict[str, Any] = {}
        for number, instance in enumerate(instances):
            patterns, binders = self._compile(instance)
            if not binders and not instance.unless:
                self._at_once.append(instance)
            else:
                self._begins |= not binders
                definition[f"r{number}"] = {"all": patterns, "run": self._action(instance, binders)}
        # A Ruleset without durable-rules' Host: its timer threads would run actions beside us.
        self._ruleset = Ruleset(f"step{next(_names)}", None, definition) if definition else None
        self._always = [
            (number, told_as)
            for number, found in enumerate(self._standing)
            if (told_as := self._sieves.passed(found)).anything
        ]

    def run(self, facts: Iterable[Fact]) -> Findings:
        """All that follows from the facts. TroubleError names the rule that could not conclude."""
        run = self._run = _Run(
            str(next(self._sessions)), list(self._standing), dict(self._numbers)
        )
        for found in facts:
            if found not in run.numbers:
                run.note(found)
        for instance in self._at_once:
            self._conclude(instance, instance.values, instance.met, run)
        self._fire(run)
        if run.problem is not None:
            raise TroubleError(run.problem)
        return Findings(tuple(run.facts), run.causes, frozenset(run.fired))

    def _fire(self, run: _Run) -> None:
        """Tell durable-rules all facts, those under negation first, and let it fire its rules."""
        first = len(self._standing)
        passed = [
            *self._always,
            *(
                (number, self._sieves.passed(found))
                for number, found in enumerate(run.facts[first:], first)
            ),
        ]
        for negated in (True, False):
            messages = [
                _message(sieve, tokens, number, run)
                for number, told_as in passed
                for sieve, tokens in told_as.of(negated)
            ]
            if not negated and self._begins:
                messages.append(_message(_BEGIN, {}, -1, run))
            if messages and self._ruleset is not None:
                self._assert(messages, run)
        if self._ruleset is not None:
            self._ruleset.delete_state(run.session)

    def _assert(self, messages: list[_Message], run: _Run) -> None:
        assert self._ruleset is not None
        ended: list[object] = []

        def done(error: object, state: Mapping[str, Any] | None) -> None:
            # what is raised inside an action does not come out: it lies in the state
            ended.append(error or (state or {}).get("exception"))

        self._ruleset.do_actions(self._ruleset.assert_facts(messages), done)
        problem = next((word for word in ended if word), None)
        if problem is None and not ended:
            # it gives an action ten seconds and then leaves the rest undone without a word
            problem = "an action took longer than durable-rules waits"
        if problem is not None and run.problem is None:
            run.problem = Trouble(
                "KB303", Place("rules"), f"durable-rules stopped part-way: {problem}", "Try again"
            )

    def _compile(self, instance: Instance) -> tuple[list[_Message], list[_Binder]]:
        rule = instance.rule
        bound: dict[str, _Bound] = {}
        patterns: list[_Message] = []
        binders: list[_Binder] = []
        taken: set[str] = set()
        for number, clause in enumerate(rule.when):
            if instance.met[number] is None:
                alias = f"c{number}"
                condition = self._condition(rule, clause, instance.values, bound)
                sieve = self._sieves.of(condition, negated=False)
                patterns.append({alias: self._sieves.pattern(condition, sieve, bound, taken)})
                binders.append(_Binder(number, alias, condition.binds))
                bound.update({var: _Bound(alias, sieve, name) for name, var in condition.binds})
        for number, clause in enumerate(instance.unless):
            condition = self._condition(rule, clause, instance.values, bound)
            sieve = self._sieves.of(condition, negated=True)
            pattern = self._sieves.pattern(condition, sieve, bound, taken)
            patterns.append({f"u{number}$not": pattern})
        if not binders:  # durable-rules wants something to stand beside what must not
            patterns.insert(0, {"begin": {"fact": _BEGIN}})
        return patterns, binders

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
            raise TroubleError(
                Trouble(
                    "KB304",
                    self._places.get(rule.id, Place("rules")),
                    f"A condition of rule '{rule.id}' can't be used: {error}",
                    "Write a value, a variable bound earlier, or any, not, above or below",
                )
            ) from error

    def _action(self, instance: Instance, binders: Sequence[_Binder]) -> Any:
        def act(c: Any) -> None:
            run = self._run
            if run.problem is not None:
                return
            values = dict(instance.values)
            stood_on = list(instance.met)
            for binder in binders:
                found = run.facts[c._m[binder.alias]["n"]]
                stood_on[binder.number] = found
                for name, variable in binder.binds:
                    values.setdefault(variable, found[name])
            for found in self._conclude(instance, values, stood_on, run):
                for sieve, tokens in self._sieves.passed(found).plain:
                    c.assert_fact(_message(sieve, tokens, run.numbers[found], run))

        return act

    def _conclude(
        self,
        instance: Instance,
        values: Mapping[str, Scalar],
        stood_on: Sequence[Fact | None],
        run: _Run,
    ) -> list[Fact]:
        """Note what the rule concludes and give what is new of it."""
        rule = instance.rule
        new: list[Fact] = []
        run.fired.add(rule.id)
        for kind, template in _templates(rule):
            try:
                found = _fill(kind, template, values)
            except Exception as error:  # durable-rules would swallow it: see the module docstring
                run.problem = Trouble(
                    "KB301",
                    self._places.get(rule.id, Place("rules")),
                    f"Rule '{rule.id}' could not conclude its '{kind}': {_words(error)}",
                    "Bind the variable in `when`, or mend the text or expression",
                )
                return new
            if found not in run.numbers:
                run.note(found)
                run.causes[found] = Cause(rule.id, tuple(f for f in stood_on if f is not None))
                new.append(found)
        return new


def _templates(rule: Rule) -> list[tuple[str, Mapping[str, Any]]]:
    return [next(iter(clause.items())) for clause in rule.then]


def _words(error: Exception) -> str:
    return f"it uses {error}, which it does not know" if isinstance(error, KeyError) else str(error)


@dataclass(frozen=True, slots=True)
class _Binder:
    """An open condition: its number in the rule, its alias, and which fields bind variables."""

    number: int
    alias: str
    binds: tuple[tuple[str, str], ...]


class _Run:
    """One forward chaining: its session, what is known, and why."""

    def __init__(self, session: str, facts: list[Fact], numbers: dict[Fact, int]) -> None:
        self.session = session
        self.facts = facts
        self.numbers = numbers
        self.causes: dict[Fact, Cause] = {}
        self.fired: set[str] = set()
        self.problem: Trouble | None = None

    def note(self, found: Fact) -> None:
        self.numbers[found] = len(self.facts)
        self.facts.append(found)


@dataclass(slots=True)
class _Sieve:
    """The tests that some conditions put to a kind of fact, and its names for durable-rules."""

    number: int
    tests: tuple[Test, ...]
    negated: bool
    compared: set[str] = field(default_factory=set)
    uses: list[int] = field(default_factory=list)

    def name(self, taken: set[str]) -> str:
        """A name that has room for one more condition and is not `taken` in its rule."""
        for number, used in enumerate(self.uses):
            if used < _JOINS_PER_NAME and self._named(number) not in taken:
                self.uses[number] += 1
                break
        else:
            number = len(self.uses)
            self.uses.append(1)
        taken.add(self._named(number))
        return self._named(number)

    def names(self) -> list[str]:
        return [self._named(number) for number in range(len(self.uses))]

    def _named(self, number: int) -> str:
        return f"s{self.number}.{number}"


@dataclass(frozen=True, slots=True)
class _Bound:
    """Where a variable was bound: the condition's alias and sieve, and the field."""

    alias: str
    sieve: _Sieve
    name: str


@dataclass(frozen=True, slots=True)
class _Passed:
    """The names a fact is told under, each with the tokens of its compared fields."""

    plain: tuple[tuple[str, Mapping[str, str]], ...]
    negated: tuple[tuple[str, Mapping[str, str]], ...]

    @property
    def anything(self) -> bool:
        """Whether it is told at all."""
        return bool(self.plain or self.negated)

    def of(self, negated: bool) -> tuple[tuple[str, Mapping[str, str]], ...]:
        return self.negated if negated else self.plain


class _Sieves:
    """All sieves of a chainer, and the tokens under which fields and values are told."""

    def __init__(self) -> None:
        self._by_kind: defaultdict[str, dict[tuple[bool, tuple[Test, ...]], _Sieve]] = defaultdict(
            dict
        )
        self._count = itertools.count()
        self._fields: dict[str, str] = {}
        self._tokens: dict[Told, str] = {}
        self._passed: dict[Fact, _Passed] = {}

    def field(self, name: str) -> str:
        """A field as durable-rules knows it; some names are its own."""
        return self._fields.setdefault(name, f"f{len(self._fields)}")

    def of(self, condition: Condition, *, negated: bool) -> _Sieve:
        """The sieve of a condition's tests."""
        sieves = self._by_kind[condition.kind]
        key = (negated, condition.tests)
        if key not in sieves:
            sieves[key] = _Sieve(next(self._count), condition.tests, negated)
        return sieves[key]

    def pattern(
        self, condition: Condition, sieve: _Sieve, bound: Mapping[str, _Bound], taken: set[str]
    ) -> _Message:
        """A condition as durable-rules is given it."""
        tests: list[_Message] = [{"fact": sieve.name(taken)}]
        for name, word, variable in condition.joins:
            other = bound[variable]
            sieve.compared.add(name)
            other.sieve.compared.add(other.name)
            joined = {self.field(name): {other.alias: self.field(other.name)}}
            tests.append(joined if word == IS else {"$neq": joined})
        return {"$and": tests} if len(tests) > 1 else tests[0]

    def passed(self, found: Fact) -> _Passed:
        """What a fact is told as. Linear in the sieves of its kind the first time."""
        known = self._passed.get(found)
        if known is None:
            known = self._passed[found] = self._sift(found)
        return known

    def _sift(self, found: Fact) -> _Passed:
        own = dict(found.fields)
        told_as: dict[bool, list[tuple[str, Mapping[str, str]]]] = {True: [], False: []}
        for sieve in self._by_kind.get(found.kind, {}).values():
            condition = Condition(found.kind, sieve.tests, (), ())
            if condition.met_alone(found):
                tokens = {
                    self.field(name): self._token(own[name])
                    for name in sorted(sieve.compared)
                    if name in own
                }
                told_as[sieve.negated].extend((name, tokens) for name in sieve.names())
        return _Passed(tuple(told_as[False]), tuple(told_as[True]))

    def _token(self, value: Scalar) -> str:
        return self._tokens.setdefault(told(value), f"v{len(self._tokens)}")


def _message(name: str, tokens: Mapping[str, str], number: int, run: _Run) -> _Message:
    return {"fact": name, "sid": run.session, "n": number, **tokens}


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
