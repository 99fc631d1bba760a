"""From decoded JSON to the records of a document, or in a sentence where it is not of its shape."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any, TypeVar

from pydantic import TypeAdapter, ValidationError

from engine.model.file.finding import Path, path_text
from engine.model.file.text import locate, misshapen
from kb.signs import plain_tree

_Shape = TypeVar("_Shape")
_DISCRIMINATORS = ("kind", "event")


class MisfitError(ValueError):
    """The first thing in a document that is not of its shape; as text, a path and what is wrong."""

    def __init__(self, path: Path, what: str) -> None:
        self.path = path
        super().__init__(f"{path_text(path)}: {what}" if path else what)

    def line(self, text: str) -> tuple[int, int]:
        """Line and column (from 1) in the JSON text that the document was decoded from."""
        return locate(text, self.path)


def read(shape: TypeAdapter[_Shape], plain: Any) -> _Shape:
    """The records of decoded JSON. Raises MisfitError where a key is missing or a value is of the
    wrong kind; text is no number and a number no truth. Signs that a terminal would obey are left
    out of texts."""
    try:
        return shape.validate_json(json.dumps(plain_tree(plain)), strict=True)
    except ValidationError as error:
        detail = error.errors(include_url=False)[0]
        finding = misshapen({**detail, "loc": _keys(detail["loc"], plain)})
        raise MisfitError(finding.path, finding.what) from error


def _keys(loc: Path, plain: Any) -> Path:
    """The keys and indexes of a path without the kinds that pydantic names on the way: at a record
    that may be of several kinds it puts in which one it took."""
    path: list[str | int] = []
    here, entered = plain, True
    for step in loc:
        kinds = [here.get(key) for key in _DISCRIMINATORS] if isinstance(here, Mapping) else []
        if entered and step in kinds:
            entered = False
            continue
        path.append(step)
        inside = isinstance(here, Mapping) and step in here
        inside = inside or (isinstance(here, list) and isinstance(step, int) and step < len(here))
        here, entered = (here[step], True) if inside else (None, False)
    return tuple(path)
