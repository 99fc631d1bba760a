"""Answers read from a YAML or JSON file: test id -> outcome id or reading.

Quotes round a value may stand or not, of either sort: `supply-rail: 3.1 V`, `"lit"` and `'lit'`
are all read as the text inside. YAML would turn `3.10` into a number and `off` into false; here
every value stays the text that was written. A test that was done more than once has its readings
in a list, in the order in which they were taken: `volts-TP2: [3.1 V, 4.4 V]`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from ruamel.yaml import YAML
from ruamel.yaml.error import MarkedYAMLError, YAMLError
from ruamel.yaml.nodes import MappingNode, Node, ScalarNode, SequenceNode

from kb.language.trees import reason
from kb.signs import plain
from kb.trouble import Place, Trouble, TroubleError

# A reading above the meter's range, as written at the bench; bare, YAML would start a text block.
_ABOVE = re.compile(r"^(\s*[^\s:#{\[][^:]*:\s+)([<>]=?\s*[0-9][^#\n]*?)(\s+#.*)?$", re.MULTILINE)
_CURLY = str.maketrans({"“": '"', "”": '"', "„": '"', "‘": "'", "’": "'"})


@dataclass(frozen=True, slots=True)
class _Line:
    """What one line says: its texts, in order, whether they stood in a list, and where."""

    texts: tuple[str, ...]
    is_list: bool
    at: tuple[int, int]


def read_answers(path: Path) -> dict[str, str]:
    """The answers of the file as text, one for each test, in the order written.

    Raises a `TroubleError` with line and column for what is no mapping of text to text.
    """
    answers: dict[str, str] = {}
    for name, line in _lines(path).items():
        if line.is_list:
            raise _trouble(path, line.at, f'the answer to "{name}" is not one word or reading')
        answers[name] = line.texts[0]
    return answers


def read_takes(path: Path) -> dict[str, tuple[str, ...]]:
    """As `read_answers`, where a test may have several readings, in the order taken."""
    return {name: line.texts for name, line in _lines(path).items()}


def _lines(path: Path) -> dict[str, _Line]:
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as wrong:
        raise _trouble(path, None, f"the answers can't be read ({_short(wrong)})") from wrong
    # JSON is read as the YAML that it is, but for the tab, which YAML admits nowhere as indent.
    text = _ABOVE.sub(r'\1"\2"\3', text.translate(_CURLY).replace("\t", "  "))
    return _entries(path, _compose(path, text))


def _compose(path: Path, text: str) -> Node | None:
    try:
        node: Node | None = YAML(typ="rt", pure=True).compose(text)
    except MarkedYAMLError as wrong:
        problem = wrong.problem or wrong.context or "its form"
        mark = wrong.problem_mark or wrong.context_mark
        place = (mark.line + 1, mark.column + 1) if mark else None
        raise _trouble(path, place, f"this is neither YAML nor JSON ({problem})") from wrong
    except YAMLError as wrong:
        raise _trouble(path, None, f"this is neither YAML nor JSON ({_short(wrong)})") from wrong
    except RecursionError:
        raise _trouble(path, None, "the answers are nested too deeply") from None
    except (ValueError, OverflowError) as wrong:
        raise _trouble(path, None, f"a value can't be read ({reason(wrong)})") from wrong
    return node


def _entries(path: Path, root: Node | None) -> dict[str, _Line]:
    if root is None:
        return {}
    if not isinstance(root, MappingNode):
        raise _trouble(path, _at(root), "the answers are not pairs of test and answer")
    answers: dict[str, _Line] = {}
    for key, value in root.value:
        several = value.value if isinstance(value, SequenceNode) else [value]
        plain = bool(several) and all(isinstance(node, ScalarNode) for node in several)
        if not isinstance(key, ScalarNode) or not plain:
            raise _trouble(
                path,
                _at(value if isinstance(key, ScalarNode) else key),
                f"the answer to {_name(key)} is not one word or reading",
            )
        name = _bare(key.value)
        if name in answers:
            raise _trouble(path, _at(key), f'"{name}" is answered twice')
        if value.tag == "tag:yaml.org,2002:null" and value.value:
            continue  # null, in JSON, is how a form leaves an answer out
        texts = tuple(_bare(node.value) for node in several)
        if not all(texts):
            raise _trouble(path, _at(key), f'the answer to "{name}" is empty')
        answers[name] = _Line(texts, isinstance(value, SequenceNode), _at(value))
    return answers


def _bare(text: str) -> str:
    """The text without white space and one layer of quotes left over by double quoting."""
    text = plain(" ".join(text.replace("\a", " ").split()))  # the reader marks folds with a bell
    if len(text) >= 2 and text[0] == text[-1] and text[0] in "\"'":
        return text[1:-1].strip()
    return text


def _name(key: Node) -> str:
    return f'"{key.value}"' if isinstance(key, ScalarNode) else "one of the tests"


def _at(node: Node) -> tuple[int, int]:
    return (node.start_mark.line + 1, node.start_mark.column + 1)


def _short(wrong: Exception) -> str:
    return str(wrong).splitlines()[0]


def _trouble(path: Path, place: tuple[int, int] | None, what: str) -> TroubleError:
    line, column = place or (0, 0)
    return TroubleError(
        Trouble(
            code="KB111",
            place=Place(str(path), line, column),
            what=what,
            mend='Write one line for each test, such as "rail-volts: 3.1 V"',
        )
    )
