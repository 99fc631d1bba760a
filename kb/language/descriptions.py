"""What each word of a knowledge file says, read off the source of the class that shapes it.

The text stands as a string under the attribute. pydantic can read such texts itself, but does so
on every start of the program; they are needed only where schemas and the reference are made.
"""

from __future__ import annotations

import ast
import inspect
import itertools
import textwrap
from collections.abc import Iterator, Mapping
from types import UnionType
from typing import Any, Union, get_args, get_origin

from pydantic import BaseModel


def of_shape(shape: type[BaseModel]) -> str:
    """What an entry of this shape is: the class's docstring, its paragraphs one line each."""
    paragraphs = inspect.cleandoc(shape.__doc__ or "").split("\n\n")
    return "\n\n".join(" ".join(paragraph.split()) for paragraph in paragraphs)


def of_words(shape: type[BaseModel]) -> Mapping[str, str]:
    """What each word of a shape says, by field; a field without a text is left out.

    OSError where the source of the class is not there to be read.
    """
    tree = ast.parse(textwrap.dedent(inspect.getsource(shape)))
    body = tree.body[0].body if isinstance(tree.body[0], ast.ClassDef) else []
    texts: dict[str, str] = {}
    for field, text in itertools.pairwise(body):
        if isinstance(field, ast.AnnAssign) and isinstance(field.target, ast.Name):
            match text:
                case ast.Expr(ast.Constant(str(words))):
                    texts[field.target.id] = " ".join(words.split())
    return texts


def shapes_within(shape: type[BaseModel]) -> Iterator[type[BaseModel]]:
    """The shape and all that its fields hold, each once, outermost first."""
    waiting, shapes = [shape], {shape}
    while waiting:
        at = waiting.pop(0)
        yield at
        for field in at.model_fields.values():
            for inner in _shapes_of(field.annotation):
                if inner not in shapes:
                    shapes.add(inner)
                    waiting.append(inner)


def _shapes_of(hint: Any) -> Iterator[type[BaseModel]]:
    if isinstance(hint, type) and issubclass(hint, BaseModel):
        yield hint
    elif get_origin(hint) in (dict, tuple, list, Union, UnionType) or get_args(hint):
        for inner in get_args(hint):
            yield from _shapes_of(inner)
