"""A bench file as text: what a shop's owner wrote beside it stays where it can.

Only what differs is written anew, so comments and order of the rest are kept; what is as usual is
left out. Read back it says the same (a test compares).
"""

from __future__ import annotations

from collections.abc import Mapping
from io import StringIO
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.comments import CommentedMap, CommentedSeq

from kb.language.benchfile import FORMAT, BenchFile, ShopBench
from kb.language.formats import modeline

_HEAD = "The bench of this shop: `nextprobe bench` shows it, `nextprobe bench --edit` asks anew."


def bench_text(says: ShopBench, before: BenchFile | None, schema: str) -> str:
    """The file's text; `before` is the file as it is now, `schema` the way to its JSON Schema."""
    if before is None or before.words is None:
        tree, head = CommentedMap(format=FORMAT), f"{modeline(schema)}\n# {_HEAD}\n"
    else:
        tree, head = before.words, ""
    plain = says.model_dump(mode="json", exclude_defaults=True)
    _taken_over(tree, {"format": FORMAT, **plain})
    text = StringIO()
    yaml = YAML(typ="rt", pure=True)
    yaml.indent(mapping=2, sequence=4, offset=2)
    yaml.dump(tree, text)
    return head + text.getvalue()


def _taken_over(tree: Any, plain: Mapping[str, Any]) -> None:
    """Make the mapping `tree` say what `plain` says, touching only what differs."""
    for key in [key for key in tree if key not in plain]:
        del tree[key]
    for key, value in plain.items():
        if isinstance(value, Mapping) and isinstance(tree.get(key), dict):
            _taken_over(tree[key], value)
        elif tree.get(key) != value or _has_exponent(value):
            tree[key] = _flowing(value)


def _has_exponent(value: Any) -> bool:
    """Whether a number is written with an exponent: the round-trip writer rounds those it read."""
    return isinstance(value, float) and "e" in repr(value)


def _flowing(value: Any) -> Any:
    """Lists and mappings on one line each."""
    if isinstance(value, list):
        names = CommentedSeq(value)
        names.fa.set_flow_style()
        return names
    if not isinstance(value, Mapping):
        return value
    words = CommentedMap((key, _flowing(inner)) for key, inner in value.items())
    if not any(isinstance(inner, Mapping) for inner in value.values()):
        words.fa.set_flow_style()
    return words
