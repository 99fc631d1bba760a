"""The parts of the knowledge's reference that follow from the classes: sections and their words.

Each word of a file is told with what it holds and whether it may be left out, in the order of the
class that shapes it; the sentences are those of `kb.language.descriptions`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin, get_type_hints

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from kb.language import descriptions
from kb.language.benchfile import Figure, Money, Named, ShopBench
from kb.language.loader import SECTIONS
from kb.language.schema import Clause, Topology
from kb.language.schema.entry import Entry, Minutes, Name, Sentence, Share, Text

_HELD: tuple[tuple[Any, str], ...] = (
    (Clause, "condition"), (Name, "name"), (Named, "name"), (Sentence, "text"), (Text, "text"),
    (Minutes, "minutes"), (Figure, "minutes"), (Share, "0 to 1"), (Money, "money"),
    (str, "text"), (float, "number"), (int, "whole number"), (bool, "true or false"),
)  # fmt: skip
_MANY = {"name": "names", "text": "texts", "condition": "conditions", "minutes": "minutes"}


def row(*cells: str) -> str:
    """A row of a table; a bar inside a cell would part it."""
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table with its head."""
    rule = "|" + "---|" * len(head)
    return "\n".join((row(*head), rule, *(row(*cells) for cells in rows)))


def sections() -> str:
    """Every section of a file of knowledge, what an entry is, and where its name stands."""
    rows = (
        (f"`{section}`", f"{_first_paragraph(shape)} [Its words](#{section}).", f"`{key}`")
        for section, (key, shape) in SECTIONS.items()
        if shape is not Topology
    )
    return table(("section", "an entry is", "its name stands under"), rows)


def entries() -> str:
    """Every section with the words of its entries, and of what those hold."""
    parts: list[str] = []
    for section, (_, shape) in SECTIONS.items():
        if shape is not Topology:
            parts.append(f"### {section}\n\n{_shape(shape)}")
    parts += [f"### {_heading(shape)}\n\n{_shape(shape)}" for shape in held_shapes()]
    return "\n\n".join(parts)


def topology() -> str:
    """The words of a topology's file, and of what stands in it."""
    return "\n\n".join(_file(Topology))


def bench_file() -> str:
    """The words of a shop's bench file."""
    return "\n\n".join(_file(ShopBench))


def held_shapes() -> tuple[type[BaseModel], ...]:
    """What entries of sections hold, each told once."""
    tops = [shape for _, shape in SECTIONS.values() if shape is not Topology]
    within = (inner for shape in tops for inner in descriptions.shapes_within(shape))
    return tuple(dict.fromkeys(inner for inner in within if inner not in tops))


def shapes() -> tuple[type[BaseModel], ...]:
    """Every shape that the reference tells."""
    tops = [*(shape for _, shape in SECTIONS.values()), ShopBench]
    within = (inner for shape in tops for inner in descriptions.shapes_within(shape))
    return tuple(dict.fromkeys(within))


def _file(shape: type[BaseModel]) -> Iterator[str]:
    """A file's own words, then those of what it holds and no section does."""
    yield _shape(shape)
    for inner in descriptions.shapes_within(shape):
        if inner is not shape and inner not in held_shapes():
            yield f"### {_heading(inner)}\n\n{_shape(inner)}"


def _shape(shape: type[BaseModel]) -> str:
    hints = get_type_hints(shape, include_extras=True)
    says = descriptions.of_words(shape)
    rows = (
        (f"`{name}`", says[name], _holds(hints[name]), _if_left_out(field))
        for name, field in shape.model_fields.items()
    )
    return f"{descriptions.of_shape(shape)}\n\n" + table(
        ("word", "what it says", "holds", "if left out"), rows
    )


def _holds(hint: Any) -> str:
    """What may stand at a word."""
    for alias, says in _HELD:
        if hint == alias:
            return says
    origin, inner = get_origin(hint), [part for part in get_args(hint) if part is not NoneType]
    if origin is Annotated:
        return _bounded(hint)
    if origin is Literal:
        return ", ".join(f"`{word}`" for word in inner if word)
    if origin is dict:
        return f"{_many(inner[1])} by {_holds(inner[0])}"
    if origin is tuple:
        return _many(inner[0])
    if origin in (Union, UnionType):
        return " or ".join(_holds(part) for part in inner)
    return f"[{_heading(hint)}](#{_heading(hint).replace(' ', '-')})"


def _bounded(hint: Any) -> str:
    """A number with its bounds, or a list that may not be empty."""
    base, *notes = get_args(hint)
    bounds = [b for note in notes for b in getattr(note, "metadata", ())]
    marks = {"Gt": "over", "Ge": "from", "Lt": "under", "Le": "to"}
    told = " ".join(
        f"{word} {value:g}" for b in bounds if (word := marks.get(type(b).__name__))
        for value in [getattr(b, type(b).__name__.lower())]
    )  # fmt: skip
    if told:
        return f"{_holds(base)} {told}"
    return ("one or more " if get_origin(base) is tuple else "") + _holds(base)


def _many(hint: Any) -> str:
    one = _holds(hint)
    if get_origin(hint) is Literal:
        return f"one of {one}"
    return _MANY.get(one, one)


def _if_left_out(field: FieldInfo) -> str:
    if field.is_required():
        return "needed"
    value = field.get_default(call_default_factory=True)
    if isinstance(value, bool):
        return f"`{str(value).lower()}`"
    return "" if not value or isinstance(value, Entry) else f"`{value}`"


def _heading(shape: type[BaseModel]) -> str:
    """The name of a shape in words: `PartFact` is `a part`."""
    return _NAMED.get(shape.__name__, shape.__name__.lower())


_NAMED = {
    "PartFact": "a part",
    "StageFact": "a stage",
    "OpeningFact": "an opening",
    "BoardFact": "a board",
    "PointFact": "a test point",
    "Mode": "a failure mode",
    "Variant": "a variant",
    "ClosedTest": "a test of the closed unit",
    "ClosedRig": "a rig in other words",
    "Found": "finding a part",
    "Span": "a span of minutes",
    "Minutes": "minutes of the bench",
    "Worth": "worth of the bench",
}


def _first_paragraph(shape: type[BaseModel]) -> str:
    return descriptions.of_shape(shape).split("\n\n")[0]
