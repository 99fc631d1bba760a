"""A topology as the text of a YAML file, commented so that its owner can go on with it by hand.

Written with ruamel.yaml, so that quotes stand where YAML needs them; read back it is the same
topology (a test compares).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from io import StringIO
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.comments import CommentedMap, CommentedSeq

from kb.language.circuit import CircuitData
from kb.language.formats import modeline
from kb.language.knowledge import Knowledge
from kb.language.schema import StageFact, Topology

_WIDE = 4096  # an entry stays on its line, however long
_HEAD = (
    "{name}: begun with `nextprobe new`. Go on by hand: the words are those of nextprobe's",
    "kb/README.md; `nextprobe check` tells what does not fit, with line and mend.",
)
_SECTIONS = {
    "unit_minutes": "What losing the unit costs, in bench minutes: the price of scrapping it.",
    "openings": "Levels of access. `after` names what must be opened before; hazards: blade, ...",
    "boards": "Assemblies that can be replaced whole.",
    "stages": "In the order in which power meets them; parts in line in that order, too.",
    "points": "Test points: `side` is in or out of the power path, or a stage's own (rail ...).",
}
_NO_POINTS = 'points:\n#  TP1: {stage: STAGE, side: out, says: "from where to where"}\n'


def topology_text(topology: Topology, knowledge: Knowledge, schema: str) -> str:
    """The file's text; `schema` is the way from the file to its JSON Schema."""
    plain = topology.model_dump(exclude_defaults=True)
    plain.setdefault("unit_minutes", topology.unit_minutes)
    order = ("topology", "says", "source", "traits", *_SECTIONS)
    tree = CommentedMap()
    for key in order:
        if key in plain:
            tree[key] = _SHAPES.get(key, _flowing)(plain[key])
    for key, words in _SECTIONS.items():
        if key in tree:
            tree.yaml_set_comment_before_after_key(key, before=words)
    stages = tree["stages"]
    for name, fact in topology.stages.items():
        comment = "\n".join(_about(fact, knowledge))
        stages.yaml_set_comment_before_after_key(name, before=comment, indent=2)
    head = "\n".join(f"# {line}" for line in _HEAD).format(name=topology.topology)
    text = f"{modeline(schema)}\n{head}\n{_dump(tree)}"
    return text if "points" in plain else text + f"# {_SECTIONS['points']}\n# " + _NO_POINTS


def circuit_text(data: CircuitData, schema: str) -> str:
    """The file beside a netlist; what a circuit file may say more stands in its schema."""
    plain = data.model_dump(exclude_defaults=True)
    tree = CommentedMap()
    for key, value in plain.items():
        tree[key] = _block(value) if key == "points" else _flowing(value)
    words = {
        "seconds": "Simulated time; readings are taken from `settled` on.",
        "points": "Each test point's two nets of the netlist, first the one the red probe goes to.",
    }
    for key, comment in words.items():
        tree.yaml_set_comment_before_after_key(key, before=comment)
    return f"{modeline(schema)}\n{_dump(tree)}"


def _about(fact: StageFact, knowledge: Knowledge) -> Iterable[str]:
    """What the stage's kind is, and which of its places are still free."""
    kind = knowledge.stages[fact.kind]
    yield f"{kind.kind}: {kind.says}"
    places = {part.place for part in fact.parts.values()}
    free = [f"{place} ({words})" for place, words in kind.places.items() if place not in places]
    if free:
        yield "free places: " + ", ".join(free)


def _block(plain: Mapping[str, Any]) -> CommentedMap:
    """A mapping of one entry a line, each in braces."""
    block = CommentedMap()
    for name, entry in plain.items():
        block[name] = _flowing(entry)
    return block


def _stages(plain: Mapping[str, Any]) -> CommentedMap:
    stages = CommentedMap()
    for name, entry in plain.items():
        stage = CommentedMap()
        for word in ("kind", "says", "behind", "board", "fed_by", "controls"):
            if word in entry:
                stage[word] = entry[word]
        stage["parts"] = _block(entry["parts"])
        stages[name] = stage
    return stages


_SHAPES: Mapping[str, Callable[[Any], Any]] = {
    "openings": _block,
    "boards": _block,
    "points": _block,
    "stages": _stages,
}


def _flowing(plain: Any) -> Any:
    """The same with every inner mapping and list in braces or brackets."""
    if isinstance(plain, Mapping):
        block = CommentedMap((key, _flowing(value)) for key, value in plain.items())
        block.fa.set_flow_style()
        return block
    if isinstance(plain, Sequence) and not isinstance(plain, str):
        sequence = CommentedSeq([_flowing(value) for value in plain])
        sequence.fa.set_flow_style()
        return sequence
    if isinstance(plain, float) and plain.is_integer():
        return int(plain)
    return plain


def _dump(tree: CommentedMap) -> str:
    yaml = YAML(typ="rt")
    yaml.width = _WIDE
    out = StringIO()
    yaml.dump(tree, out)
    return out.getvalue()
