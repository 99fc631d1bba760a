"""What a rule's condition asks of a single fact, and of the values bound so far.

A condition names a kind of fact and some of its fields. A field may be asked to be a value, to be
`$x` (bound by the first use, equal to it from then on), `{any: [...]}`, `{not: value or $x}`,
`{above: number}` or `{below: number}`. Only `$x` in `unless` without a first use asks nothing but
that the field is there. Values are equal only within their sort: text never equals a number, and
a truth value is neither.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from engine.deduce.facts import Fact, Scalar

IS, NOT, ANY, ABOVE, BELOW = "is", "not", "any", "above", "below"
THERE, SAME, OTHER = "there", "same", "other"

TypedValue = tuple[str, str]
Test = tuple[str, str, Any]


def typed_value(value: object) -> TypedValue:
    """A value with its sort, so that values are equal exactly when these are."""
    if isinstance(value, bool):
        return ("truth", str(value))
    if isinstance(value, (int, float)):
        return ("number", repr(float(value)))
    return ("text", str(value))


@dataclass(frozen=True, slots=True)
class Condition:
    """A condition taken apart. `tests` can be put to a fact alone; `binds` and `joins` can't.

    A test is (field, word, operand). `binds` maps a field to the variable it binds; `joins` are
    (field, IS or NOT, variable) with variables that other conditions bind.
    """

    kind: str
    tests: tuple[Test, ...]
    binds: tuple[tuple[str, str], ...]
    joins: tuple[Test, ...]

    def met_alone(self, fact: Fact) -> bool:
        """Whether a fact passes all tests that concern it alone."""
        if fact.kind != self.kind:
            return False
        own = dict(fact.fields)
        return all(passes(own, test) for test in self.tests)


def take_apart(
    clause: Mapping[str, Mapping[str, Any]], values: Mapping[str, Scalar], variables: frozenset[str]
) -> Condition:
    """The condition of a clause, with the `values` put in; `variables` are met elsewhere.

    ValueError for `not: $x` where nothing binds $x.
    """
    kind, fields = next(iter(clause.items()))
    tests: list[Test] = []
    binds: dict[str, str] = {}
    joins: list[Test] = []
    # what binds goes first, so that `{end: {not: $a}, start: $a}` finds $a whatever its order
    for name, word, operand in sorted(field_tests(fields), key=lambda test: test[1] != IS):
        variable = operand[1:] if isinstance(operand, str) and operand[:1] == "$" else None
        if variable is None or word not in (IS, NOT):
            tests.append((name, word, _operand(word, operand)))
        elif variable in values:
            tests.append((name, word, typed_value(values[variable])))
        elif variable in variables:
            joins.append((name, word, variable))
            tests.append((name, THERE, None))
        elif variable in binds.values():
            first = next(field for field, bind in binds.items() if bind == variable)
            tests.append((name, SAME if word == IS else OTHER, first))
        elif word == NOT:
            raise ValueError(f"'not: ${variable}' stands before anything binds ${variable}")
        else:
            binds[name] = variable
            tests.append((name, THERE, None))
    return Condition(kind, tuple(sorted(set(tests), key=repr)), tuple(binds.items()), tuple(joins))


def field_tests(fields: Mapping[str, Any]) -> Iterator[Test]:
    """Each thing a clause asks of its fields: (field, word, operand as written)."""
    for name, pattern in fields.items():
        if isinstance(pattern, Mapping):
            for word, operand in pattern.items():
                yield name, word, operand
        else:
            yield name, IS, pattern


def _operand(word: str, operand: Any) -> Any:
    if word == ANY:
        return tuple(typed_value(choice) for choice in operand)
    return float(operand) if word in (ABOVE, BELOW) else typed_value(operand)


def passes(own: Mapping[str, Scalar], test: Test) -> bool:
    """Whether a fact's fields pass one test. A field that is not there passes none."""
    name, word, operand = test
    if name not in own:
        return False
    value = own[name]
    if word in (ABOVE, BELOW):
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            return False
        return bool(value > operand if word == ABOVE else value < operand)
    if word in (SAME, OTHER):
        is_same = operand in own and typed_value(value) == typed_value(own[operand])
        return operand in own and is_same == (word == SAME)
    if word == ANY:
        return bool(typed_value(value) in operand)
    return word == THERE or bool(typed_value(value) == operand) == (word == IS)
