"""Which keys of a document's records occur in documents, and what a schema says without leniency.

The judge of a document is the library jsonschema, which knows nothing of our classes; here every
object is closed: a key that its schema does not list is wrong.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from types import ModuleType
from typing import Any

from jsonschema import Draft202012Validator

from engine.documents import record
from engine.documents.record import Record
from kb.language import formats

Key = tuple[str, str]
"""A class of records and one of its keys."""


def wrong_or_unlisted(name: str, plain: Any) -> list[str]:
    """What the committed schema `name` says against a document, keys that it does not list too."""
    schema = json.loads((formats.FOLDER / name).read_text("utf-8"))
    for place in (schema, *schema["$defs"].values()):
        place["additionalProperties"] = False
    return [error.message for error in Draft202012Validator(schema).iter_errors(plain)]


def listed(module: ModuleType) -> set[Key]:
    """Every key of the records that stand in the module's document."""
    classes = {
        kind for kind in (*vars(module).values(), *vars(record).values())
        if isinstance(kind, type) and issubclass(kind, Record) and kind is not Record
    }  # fmt: skip
    return {(kind.__name__, key) for kind in classes for key in kind.model_fields}


def filled(thing: Any) -> Iterator[Key]:
    """The keys of a record, and of the records in it, that are written and not null."""
    if isinstance(thing, Record):
        for key in thing.model_fields_set:
            value = getattr(thing, key)
            if value is not None:
                yield type(thing).__name__, key
                yield from filled(value)
    elif isinstance(thing, tuple):
        for value in thing:
            yield from filled(value)
    elif isinstance(thing, dict):
        yield from filled(tuple(thing.values()))
