"""Facts, and the causes they keep."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

Scalar = str | float | int | bool


@dataclass(frozen=True, slots=True)
class Fact:
    """One statement: a kind and its fields. Equal facts are one fact.

    `detail` holds what rules never match on (lists of answers, how-to text).
    """

    kind: str
    fields: tuple[tuple[str, Scalar], ...]
    detail: Mapping[str, object] = field(default_factory=dict, compare=False)

    def __getitem__(self, name: str) -> Scalar:
        for key, value in self.fields:
            if key == name:
                return value
        raise KeyError(name)

    def text(self, name: str) -> str:
        """A field as text."""
        return str(self[name])

    def number(self, name: str) -> float:
        """A field as a number."""
        return float(self[name])

    def __str__(self) -> str:
        """The kind and its first few short fields: enough to tell one fact from another."""
        texts = [f"{key} {_short(value)}" for key, value in self.fields if _tells(value)]
        return f"{self.kind}: {', '.join(texts[:_FIELDS_TOLD])}"


_FIELDS_TOLD, _LETTERS_TOLD = 5, 48
"""How many fields, and of how many letters, a fact is told with; for reading alone."""


def _tells(value: Scalar) -> bool:
    return value != "" and len(str(value)) <= _LETTERS_TOLD


def _short(value: Scalar) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)


def fact(kind: str, /, **fields: Scalar) -> Fact:
    """A fact from keyword fields, in the order given."""
    return Fact(kind, tuple(fields.items()))


@dataclass(frozen=True, slots=True)
class Cause:
    """The rule that concluded a fact and the facts that met its conditions."""

    rule: str
    facts: tuple[Fact, ...]


@dataclass(frozen=True, slots=True)
class Findings:
    """Facts in the order they were found; `causes` has an entry for each that a rule concluded.

    The first `standing` of the facts are the same in every run of their chainer.
    """

    facts: tuple[Fact, ...]
    causes: Mapping[Fact, Cause]
    firings: frozenset[str]
    standing: int = 0

    def of(self, kind: str) -> Iterator[Fact]:
        """All facts of a kind, in order."""
        return (item for item in self.facts if item.kind == kind)

    def chain(self, conclusion: Fact) -> Iterator[tuple[int, Fact, Cause | None]]:
        """The conclusion and, below it, everything it stands on: (depth, fact, cause).

        A fact used twice is told once.
        """
        history: set[Fact] = set()
        stack: list[tuple[int, Fact]] = [(0, conclusion)]
        while stack:
            depth, item = stack.pop()
            if item in history:
                continue
            history.add(item)
            cause = self.causes.get(item)
            yield depth, item, cause
            if cause is not None:
                stack.extend((depth + 1, below) for below in reversed(cause.facts))
