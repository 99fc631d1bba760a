"""Facts, and the causes they keep.

Rules know a fact's fields by name. Python reads them through a `View` of its kind, which has them
as typed attributes: `engine.deduce.anatomy` and `engine.deduce.offers` have the kinds. Look-ups by
name are for what is generic: matching, joining and filling templates.
"""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, ClassVar, Self, TypeVar

from kb.language.bounds import is_number
from kb.trouble import Trouble, TroubleError

Scalar = str | float | int | bool


@dataclass(frozen=True, slots=True)
class Fact:
    """One statement: a kind and its fields. Equal facts are one fact.

    `detail` holds what rules never match on (lists of answers, how-to text).
    """

    kind: str
    fields: tuple[tuple[str, Scalar], ...]
    detail: Mapping[str, object] = field(default_factory=dict, compare=False)
    _hash: int = field(init=False, compare=False, repr=False)

    def __post_init__(self) -> None:
        # looked up in tables millions of times
        object.__setattr__(self, "_hash", hash((self.kind, self.fields)))

    def __hash__(self) -> int:
        return self._hash

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

    @property
    def content(self) -> tuple[object, ...]:
        """Its fields and all its detail, to tell whether two facts say the same throughout."""
        detail = sorted((key, str(text)) for key, text in self.detail.items())
        return (self.fields, tuple(detail))

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


class FieldError(Exception):
    """A fact lacks a field that its kind always has, or has one of another sort; says so in words.

    `field` is that field's name.
    """

    def __init__(self, fact: Fact, field_name: str, why: str) -> None:
        super().__init__(why)
        self.fact, self.field, self.why = fact, field_name, why


class ConclusionError(TroubleError):
    """A rule could not conclude; `facts` are those that met its conditions."""

    def __init__(self, trouble: Trouble, facts: Iterable[Fact | None]) -> None:
        super().__init__(trouble)
        self.facts = tuple(item for item in facts if item is not None)


@dataclass(frozen=True, slots=True)
class Reading:
    """How an attribute of a view is read: the field's name, its sort as annotated (`str`, `float`,
    `bool`, `| None` where the fact may lack it), and what stands for one that is lacking."""

    attribute: str
    field: str
    sort: str
    otherwise: object

    @property
    def may_lack(self) -> bool:
        """Whether a fact without the field can be read."""
        return self.otherwise is not dataclasses.MISSING

    def value(self, fact: Fact, own: Mapping[str, Scalar]) -> Any:
        """The attribute's value. FieldError if the fact has none, or none of this sort."""
        value = own.get(self.field)
        if value is None:
            if not self.may_lack:
                raise FieldError(fact, self.field, f"without its field '{self.field}'")
            return self.otherwise
        if self.sort.startswith("float"):
            return as_number(fact, self.field, value)
        if self.sort.startswith("str"):
            return str(value)
        if not isinstance(value, bool):
            why = f"whose '{self.field}' is neither true nor false: {value!r}"
            raise FieldError(fact, self.field, why)
        return value


def as_number(fact: Fact, name: str, value: object) -> float:
    """A number of a fact's field. FieldError for a text or truth, and for what is not finite."""
    if not is_number(value):
        raise FieldError(fact, name, f"whose '{name}' is no number: {value!r}")
    return float(value)  # type: ignore[arg-type]


@dataclass(frozen=True, slots=True)
class View:
    """A fact of one kind with those of its fields that Python reads.

    Each attribute is the field of its name, or of the name in its metadata under `FIELD`, where
    Python has another use for that word. An attribute with a default is a field that the fact may
    lack, and no number has a default but None, so that nothing lacking is reckoned with.
    """

    fact: Fact
    kind: ClassVar[str]

    @classmethod
    def of(cls, fact: Fact) -> Self:
        """The view of a fact of this kind. FieldError if it lacks what the kind always has."""
        return cls(fact, **attributes(cls, fact))


FIELD = "field"
"""Under what an attribute's metadata names the field it reads; "" for what is no field."""


@functools.cache
def readings(view: type[View]) -> tuple[Reading, ...]:
    """How each attribute of a view is read, in order."""
    return tuple(
        Reading(own.name, own.metadata.get(FIELD, own.name), str(own.type), own.default)
        for own in dataclasses.fields(view)
        if own.name != _FACT and own.metadata.get(FIELD) != ""
    )


def attributes(view: type[View], fact: Fact) -> dict[str, Any]:
    """What the fact's fields give for each attribute of a view. FieldError as `View.of`."""
    own = dict(fact.fields)
    how = readings(view)  # type: ignore[arg-type]  # a class is hashable whatever its objects are
    return {reading.attribute: reading.value(fact, own) for reading in how}


_FACT = "fact"
V = TypeVar("V", bound=View)


def views_of(view: type[V], facts: Iterable[Fact]) -> Iterator[V]:
    """All facts of the view's kind, in order. FieldError as `View.of`."""
    return (view.of(item) for item in facts if item.kind == view.kind)


@dataclass(frozen=True, slots=True)
class Claim:
    """A fact that claims a value of a quantity, its kind, at some place; None for what it lacks."""

    fact: Fact
    at: str | None
    value: str | None

    @classmethod
    def of(cls, fact: Fact) -> Self:
        """What a fact of a quantity claims."""
        own = dict(fact.fields)
        at, value = own.get("at"), own.get("is")
        return cls(fact, None if at is None else str(at), None if value is None else str(value))


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
    _kinds: dict[str, list[Fact]] = field(
        default_factory=dict, init=False, compare=False, repr=False
    )

    def of(self, kind: str) -> Iterator[Fact]:
        """All facts of a kind, in order."""
        if not self._kinds:  # asked hundreds of times of thousands of facts
            for item in self.facts:
                self._kinds.setdefault(item.kind, []).append(item)
        return iter(self._kinds.get(kind, ()))

    def all(self, view: type[V]) -> Iterator[V]:
        """All facts of a view's kind, in order. FieldError as `View.of`."""
        return views_of(view, self.of(view.kind))

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
