"""Trade rules as a durable-rules ruleset, run forward over facts until nothing new follows.

This is the only module that knows durable-rules. Its rulesets are process-global and can't be
dropped, so a `Chainer` is built once for a set of rules; every run has a session of its own.
Conditions are compiled to its JSON rule language: a first use of a variable binds it, a later one
joins; `unless` becomes a negated pattern. Facts under negation must be there before any rule can
fire, so they are told apart and first; `kb.lint` ensures that no rule negates what rules of its
own step conclude.

Two limits of durable-rules 2.0.28 shape the compilation. A pattern that holds an `$or` loses its
joins, so a choice (`any`) or limit (`above`, `below`) becomes a mark set on each message that meets
it. One message may enter at most 64 joins (its error 303), so a kind of fact used by many
conditions is spread over several message names, and asserted once under each.
"""

from __future__ import annotations

import itertools
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from durable.engine import MessageObservedException, Ruleset

from engine.deduce.expressions import evaluate
from engine.deduce.facts import Cause, Fact, Findings, Scalar
from kb.schema import Rule
from kb.trouble import Place, Trouble, TroubleError

_names = itertools.count(1)
_MEETS: Mapping[str, Callable[[Any, Any], bool]] = {
    "any": lambda value, choices: value in choices,
    "above": lambda value, limit: value > limit,
    "below": lambda value, limit: value < limit,
}
_CONDITIONS_PER_NAME = 40


class Chainer:
    """A compiled step of rules. `run` may be called any number of times, not from two threads."""

    def __init__(self, rules: Iterable[Rule], places: Mapping[str, Place]) -> None:
        self._places = places
        self._language = _Language()
        self._run = _Run("0")
        self._sessions = itertools.count(1)
        definition: dict[str, Any] = {}
        for rule in rules:
            definition[rule.id] = self._compile(rule)
        # Every message must be mentioned by some pattern or durable-rules rejects it; this rule
        # mentions them all and, lacking its second fact, never fires.
        definition["mentions-all"] = {
            "all": [{"m0": {"$ex": {"fact": 1}}}, {"m1": {"fact": "never concluded"}}],
            "run": lambda c: None,
        }
        # A Ruleset without durable-rules' Host: its timer threads would run actions beside us.
        self._ruleset = Ruleset(f"step{next(_names)}", None, definition)

    def run(self, facts: Iterable[Fact]) -> Findings:
        """All that follows from the facts. TroubleError names the rule that could not conclude."""
        run = self._run = _Run(str(next(self._sessions)))
        for found in facts:
            if found not in run.numbers:
                run.note(found)
        given = tuple(run.facts)
        # what `unless` looks for goes first: see the module docstring
        for name_of in (negated, str):
            messages = [m for found in given for m in self._messages(found, run, name_of)]
            if messages:
                self._assert(messages)
        if run.problem is not None:
            raise TroubleError(run.problem)
        self._ruleset.delete_state(run.session)
        return Findings(tuple(run.facts), run.causes, frozenset(run.fired))

    def _messages(
        self, found: Fact, run: _Run, name_of: Callable[[str], str] = str
    ) -> list[dict[str, Any]]:
        name = name_of(found.kind)
        if name not in self._language.uses:
            return []
        return self._language.messages(found, name, run.session, run.numbers[found])

    def _assert(self, messages: list[dict[str, Any]]) -> None:
        failures: list[object] = []

        def done(error: object, state: Mapping[str, Any] | None) -> None:
            if error:
                failures.append(error)
            # what is raised inside an action does not come out: it lies in the state
            if state and "exception" in state:
                failures.append(state["exception"])

        self._ruleset.do_actions(self._ruleset.assert_facts(messages), done)
        if failures:
            raise RuntimeError(f"durable-rules stopped: {failures[0]}")

    def _compile(self, rule: Rule) -> dict[str, Any]:
        bound: dict[str, tuple[str, str, str]] = {}
        patterns: list[dict[str, Any]] = []
        binders: list[tuple[str, dict[str, str]]] = []
        for number, clause in enumerate(rule.when):
            alias = f"f{number}"
            kind, fields = next(iter(clause.items()))
            tests, binds = self._language.pattern(kind, fields, bound)
            patterns.append({alias: tests})
            binders.append((alias, binds))
            bound.update({var: (alias, kind, name) for name, var in binds.items()})
        for number, clause in enumerate(rule.unless):
            kind, fields = next(iter(clause.items()))
            tests, _ = self._language.pattern(negated(kind), fields, bound)
            patterns.append({f"n{number}$not": tests})

        def act(c: Any) -> None:
            self._conclude(rule, binders, c)

        return {"all": patterns, "run": act}

    def _conclude(self, rule: Rule, binders: list[tuple[str, dict[str, str]]], c: Any) -> None:
        run = self._run
        if run.problem is not None:
            return
        values: dict[str, Scalar] = {}
        stood_on: list[Fact] = []
        for alias, binds in binders:
            found = run.facts[getattr(c, alias)._d["number"]]
            stood_on.append(found)
            for name, variable in binds.items():
                values.setdefault(variable, found[name])
        run.fired.add(rule.id)
        for clause in rule.then:
            kind, template = next(iter(clause.items()))
            try:
                found = _fill(kind, template, values)
            except (ValueError, KeyError, IndexError) as error:
                run.problem = Trouble(
                    "KB301",
                    self._places.get(rule.id, Place("rules")),
                    f"Rule '{rule.id}' could not conclude its '{kind}': {error}",
                    "Bind the variable in `when`, or mend the text or expression",
                )
                return
            if found not in run.numbers:
                run.note(found)
                run.causes[found] = Cause(rule.id, tuple(stood_on))
                self._tell(found, run, c)

    def _tell(self, found: Fact, run: _Run, c: Any) -> None:
        for message in self._messages(found, run):
            try:
                c.assert_fact(message)
            except MessageObservedException:  # an equal message is no news
                continue


def negated(kind: str) -> str:
    """The name under which a kind of fact is told to those conditions that forbid it."""
    return f"no {kind}"


class _Run:
    """One forward chaining: its session, what is known, and why."""

    def __init__(self, session: str) -> None:
        self.session = session
        self.facts: list[Fact] = []
        self.numbers: dict[Fact, int] = {}
        self.causes: dict[Fact, Cause] = {}
        self.fired: set[str] = set()
        self.problem: Trouble | None = None

    def note(self, found: Fact) -> None:
        self.numbers[found] = len(self.facts)
        self.facts.append(found)


class _Language:
    """How conditions become patterns and facts become messages; see the module docstring."""

    def __init__(self) -> None:
        self.uses: Counter[str] = Counter()
        self.marks: dict[str, dict[tuple[str, str, Any], str]] = {}
        self.compared: defaultdict[str, set[str]] = defaultdict(set)

    def pattern(
        self, kind: str, fields: Mapping[str, Any], bound: Mapping[str, tuple[str, str, str]]
    ) -> tuple[dict[str, Any], dict[str, str]]:
        """A condition's pattern, and which of its fields bind which variables."""
        tests: list[dict[str, Any]] = [{"fact": self._name(kind, self.uses[kind])}]
        self.uses[kind] += 1
        binds: dict[str, str] = {}
        for name, wanted in fields.items():
            if isinstance(wanted, str) and wanted.startswith("$"):
                if wanted[1:] in bound:
                    tests.append({name: self._joined(kind, name, bound[wanted[1:]])})
                else:
                    binds[name] = wanted[1:]
            elif isinstance(wanted, Mapping):
                tests.extend(self._comparison(kind, name, wanted, bound))
            else:
                self.compared[kind].add(name)
                tests.append({name: _told(wanted)})
        return ({"$and": tests} if len(tests) > 1 else tests[0]), binds

    def messages(
        self, found: Fact, kind: str, session: str, number: int
    ) -> list[dict[str, Any]]:
        """A fact as durable-rules is told it, once for each name its kind is spread over.

        Only the fields that conditions compare are told; `number` finds the fact again.
        """
        own = dict(found.fields)
        fields: dict[str, Any] = {"sid": session, "number": number}
        for name in self.compared[kind]:
            if name in own:
                fields[name] = _told(own[name])
        for (name, word, limit), mark in self.marks.get(kind, {}).items():
            if name in own and _MEETS[word](own[name], limit):
                fields[mark] = 1
        last = (self.uses[kind] - 1) // _CONDITIONS_PER_NAME
        return [
            {"fact": self._name(kind, shard * _CONDITIONS_PER_NAME), **fields}
            for shard in range(last + 1)
        ]

    def _name(self, kind: str, use: int) -> str:
        shard = use // _CONDITIONS_PER_NAME
        return f"{kind}/{shard}" if shard else kind

    def _joined(self, kind: str, name: str, bound: tuple[str, str, str]) -> dict[str, str]:
        alias, other_kind, other_name = bound
        self.compared[kind].add(name)
        self.compared[other_kind].add(other_name)
        return {alias: other_name}

    def _comparison(
        self,
        kind: str,
        name: str,
        wanted: Mapping[str, Any],
        bound: Mapping[str, tuple[str, str, str]],
    ) -> Iterable[dict[str, Any]]:
        for word, value in wanted.items():
            if word == "not":
                self.compared[kind].add(name)
                joined = isinstance(value, str) and value.startswith("$")
                other = self._joined(kind, name, bound[value[1:]]) if joined else _told(value)
                yield {"$neq": {name: other}}
            else:
                limit = tuple(value) if isinstance(value, (list, tuple)) else value
                marks = self.marks.setdefault(kind, {})
                yield {marks.setdefault((name, word, limit), f"mark{len(marks)}"): 1}


def _told(value: Any) -> Any:
    """A value as durable-rules is told it: its JSON reader stumbles over `1e-05`."""
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return repr(float(value))
    return value


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


def fill(wanted: Any, values: Mapping[str, Scalar]) -> Any:
    """A template with its variables put in: `$x` whole, `{x}` inside text, `= x * 2` worked out."""
    if isinstance(wanted, str):
        if wanted.startswith("= "):
            return float(evaluate(wanted[2:], values))
        if wanted.startswith("$"):
            return values[wanted[1:]]
        if "{" in wanted:
            return wanted.format(**{name: _text(value) for name, value in values.items()})
        return str(wanted)
    if isinstance(wanted, Mapping):
        return {str(key): fill(inner, values) for key, inner in wanted.items()}
    if isinstance(wanted, (list, tuple)):
        return [fill(inner, values) for inner in wanted]
    return wanted


class _Figure(float):
    """A number that prints without needless zeros where a text asks for no other form."""

    def __format__(self, form: str) -> str:
        return format(float(self), form or "g")


def _text(value: Scalar) -> str | _Figure:
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return _Figure(value)
    return str(value)
