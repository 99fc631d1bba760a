"""Where in a YAML file a word stands, by the marks that the reader leaves on what it read."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from kb.language.trees import MarkedList
from kb.trouble import Place


def deepest(data: Any, path: Sequence[Any], place: Place) -> Place:
    """Line and column of the deepest part of `path` that `data` has; `place` where it has none.

    `data` is a mapping or list of `kb.language.trees`; lines count from 1. What has no mark of its
    own stands where the mapping around it does.
    """
    here, node = place, data
    for step in path:
        marks: Any = getattr(node, "marks", ())
        if step not in (range(len(node)) if isinstance(node, MarkedList) else marks):
            break
        line, column = marks[step]
        here, node = Place(place.source, line + 1, column + 1), node[step]
    return here
