"""From JSON text to a `Model` of the right shape, with the line of every trouble."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator
from typing import Any

from pydantic import TypeAdapter, ValidationError
from pydantic_core import ErrorDetails

from engine.model.file.finding import Finding, Path
from engine.model.records import FORMAT, Model
from kb.language import constraints

_SHAPE: TypeAdapter[Model] = TypeAdapter(Model)
_SPACE = re.compile(r"[ \t\n\r]*")
_HUGE = 1e300
"""Sums and products of larger numbers leave what a float holds; of the algorithm."""


class _NotJson(ValueError):
    """A token JSON does not have (NaN, Infinity) or a key written twice."""

    def __init__(self, code: str, word: str) -> None:
        self.code = code
        self.word = word
        super().__init__(word)


def decode(text: str) -> tuple[Any, tuple[Finding, ...]]:
    """The decoded JSON and what is wrong with text, keys, numbers or format."""
    try:
        plain = json.loads(text, parse_constant=_no_constant, object_pairs_hook=_once)
    except _NotJson as error:
        return None, (_not_json(error, text),)
    except json.JSONDecodeError as error:
        what = f"this is not JSON: {error.msg[:1].lower()}{error.msg[1:]}"
        mend = "Mend the JSON at this place"
        return None, (Finding("MD101", (), what, mend, at=(error.lineno, error.colno)),)
    except (RecursionError, ValueError):
        what = "this is not JSON we can read: nested too deeply, or a number with too many digits"
        return None, (Finding("MD101", (), what, "Write the document anew"),)
    return plain, (*_format(plain), *_unusable(plain))


def shape(text: str, plain: Any) -> tuple[Model | None, tuple[Finding, ...]]:
    """The model, or what keys are missing and which values are of the wrong kind."""
    try:
        return _SHAPE.validate_json(json.dumps(plain), strict=True), ()
    except ValidationError as error:
        return None, tuple(misshapen(detail) for detail in error.errors(include_url=False))


def locate(text: str, path: Path) -> tuple[int, int]:
    """Line and column (from 1) where the value at a path of a JSON text begins.

    Where the path leaves the document (a missing key), the last value that exists. Linear in the
    length of the text.
    """
    at = _skip(text, 0)
    for step in path:
        inner = _member(text, at, step)
        if inner is None:
            break
        at = inner
    return text.count("\n", 0, at) + 1, at - (text.rfind("\n", 0, at) + 1) + 1


def _no_constant(word: str) -> Any:
    raise _NotJson("MD101", word)


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    members = dict(pairs)
    if len(members) < len(pairs):
        keys: set[str] = set()
        for key, _ in pairs:
            if key in keys:
                raise _NotJson("MD102", key)
            keys.add(key)
    return members


def _not_json(error: _NotJson, text: str) -> Finding:
    if error.code == "MD102":
        what = f'the key "{error.word}" stands twice in one object'
        return Finding("MD102", (), what, "Keep one of the two")
    at = text.find(error.word)
    place = (text.count("\n", 0, at) + 1, at - text.rfind("\n", 0, at))
    return Finding("MD101", (), f"{error.word} is not a JSON number", "Write a number", at=place)


def _format(plain: Any) -> Iterator[Finding]:
    if not isinstance(plain, dict):
        what = "a model document is a JSON object"
        yield Finding("MD103", (), what, f'Begin with {{"format": "{FORMAT}"')
    elif plain.get("format") != FORMAT:
        label = plain.get("format", "missing")
        what = f'the format is {json.dumps(label)[:60]}, but this program reads "{FORMAT}"'
        yield Finding("MD103", ("format",), what, f'Write "format": "{FORMAT}"')


def _unusable(plain: Any) -> Iterator[Finding]:
    """Numbers and texts that are JSON but that nobody could print or reckon with."""
    stack: list[tuple[Path, Any]] = [((), plain)]
    while stack:
        path, value = stack.pop()
        if isinstance(value, dict):
            if any(_unprintable(key) for key in value):
                what = "a key here is empty or has characters that can't be printed"
                yield Finding("MD106", path, what, "Use plain letters, digits and hyphens")
            stack.extend(((*path, key), inner) for key, inner in value.items())
        elif isinstance(value, list):
            stack.extend(((*path, place), inner) for place, inner in enumerate(value))
        elif isinstance(value, str):
            if any(not letter.isprintable() and letter not in "\n\t" for letter in value):
                what = "this text has characters that can't be printed"
                yield Finding("MD106", path, what, "Write it in plain letters")
        elif isinstance(value, (int, float)) and not _usable(value):
            yield Finding("MD105", path, "this number is not finite", "Write a usual number")


def _unprintable(key: str) -> bool:
    return not key.strip() or not key.isprintable()


def _usable(number: int | float) -> bool:
    return (
        math.isfinite(number) and abs(number) < _HUGE
        if isinstance(number, float)
        else (-_HUGE < number < _HUGE)
    )


_KINDS = {
    "string_type": "text",
    "float_type": "a number",
    "bool_type": "true or false",
    "tuple_type": "a list",
    "dict_type": "an object",
    "mapping_type": "an object",
    "dataclass_type": "an object",
    "model_type": "an object",
    "model_attributes_type": "an object",
}


def misshapen(detail: ErrorDetails) -> Finding:
    """What one refusal of pydantic's says, in our words: what is missing, or of the wrong kind."""
    path: Path = tuple(detail["loc"])
    if detail["type"] == "missing":
        return Finding("MD104", path[:-1], f'"{path[-1]}" is missing', f'Add "{path[-1]}"')
    kind = _KINDS.get(detail["type"])
    if kind is None:
        says = constraints.in_words(detail)
        return Finding("MD104", path, says, "Give it the shape of the format")
    value = json.dumps(detail["input"], default=str)[:40]
    return Finding("MD104", path, f"this should be {kind}, not {value}", f"Write {kind}")


def _member(text: str, at: int, step: str | int) -> int | None:
    """Where the member `step` of the object or list at offset `at` begins, if there is one."""
    closing = {"{": "}", "[": "]"}.get(text[at : at + 1])
    if closing is None or (closing == "}") != isinstance(step, str):
        return None
    decoder = json.JSONDecoder()
    at = _skip(text, at + 1)
    index = 0
    while text[at : at + 1] != closing:
        key: str | int = index
        if closing == "}":
            key, at = decoder.raw_decode(text, at)
            at = _skip(text, _skip(text, at) + 1)
        if key == step:
            return at
        _, at = decoder.raw_decode(text, at)
        at = _skip(text, at)
        if text[at : at + 1] == ",":
            at = _skip(text, at + 1)
        index += 1
    return None


def _skip(text: str, at: int) -> int:
    match = _SPACE.match(text, at)
    return match.end() if match else at
