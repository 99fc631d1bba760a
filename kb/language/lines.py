"""Where in a YAML file a word stands, by the marks that the reader leaves on what it read."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from kb.trouble import Place


def deepest(data: Any, path: Sequence[Any], place: Place) -> Place:
    """Line and column of the deepest part of `path` that `data` has; `place` where it has none.

    `data` is a mapping or list as ruamel's round-trip reader gives it; lines count from 1.
    """
    here, node = place, data
    for step in path:
        if isinstance(node, dict) and step in node and hasattr(node, "lc"):
            line, column = node.lc.key(step)
            here, node = Place(place.source, line + 1, column + 1), node[step]
        elif isinstance(node, list) and isinstance(step, int) and step < len(node):
            line, column = node.lc.item(step)  # type: ignore[attr-defined]
            here, node = Place(place.source, line + 1, column + 1), node[step]
        else:
            break
    return here
