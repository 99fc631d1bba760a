"""How a good text is spoilt: by letters, words, lines and, for JSON, by values and keys.

All chance comes from the generator that is handed in, so that a seed gives the same texts again.
"""

from __future__ import annotations

import copy
import json
import math
import random
import re
from collections.abc import Sequence
from typing import Any

_NASTY = (
    "", " ", "0", "-1", "-0", "1e999", "-1e308", "1e-320", "nan", "NaN", ".nan", ".inf", "Infinity",
    "9" * 40, "9" * 5000, "0x1F", "0o17", "1_000", "12:30:45", "2026-02-30", "2026-11-30", "null",
    "~", "true", "no", "off", "[]", "{}", "[[]]", '""', "''", "!!python/object:os.system x",
    "!!binary aGVsbG8=", "!!float x", "!!int", "!!timestamp 2026-99-99", "!!set {a, b}", "!!null x",
    "&a [*a]", "*a", "<<: *b", "<<: [1]", "? a", "- ", ": ", "|", ">", "#", "%YAML 9.9", "---",
    "...", "\t", "\r", "\n\n", "\x00", "\x1b[2J\x1b]0;x\x07", "\x07", "\x08" * 3, "\x85", "\u2028",
    "\u202eabc", "\u2066x", "\ufeff", "\u200b", "\ud7ff", "\U0010ffff", "é", "Ω", "µ",
    "½", "²", "٣",
    "世界", "a" * 3000, "(" * 300, "[" * 300, "{" * 300, ")" * 9, "))", "((", '"', "'", "\\", "\\x",
    "$", "$x", "{x}", "{=x}", "{= 9**9**9}", "{v:>999999999}", "%s", "%(x)s", "{0}", "..", "../..",
    "/dev/zero", "<script>alert(1)</script>", "12 V", "3,1V", "4k7", "<1000", "0-3 kV", "<550 GV",
    "1e400 V", "-", "--", "+", "=", "==", ">", "<", "±", "∞", "OL", "K1", "id", "sid", "none",
    '"\\UFFFFFFFF"', "\\ud800",
)  # fmt: skip
_VALUES: tuple[Any, ...] = (
    None, True, False, 0, -1, 1, 2, 0.5, 1e308, -1e308, 1e-320, 10**30, "", " ", "x", "none", [],
    {}, [None], [[]], {"": None}, {"kind": "test"}, "400/50", "molecule", "2026-02-30", "\x1b[31m",
    "\u202e", "a" * 5000, "=cmd()", "../..", "/dev/null", "12 V", [1, 2, 3], [["a", 1]], -0.0,
)  # fmt: skip
_WORD = re.compile(r"\w+|[^\w\s]|\s+")


def spoilt(rng: random.Random, text: str, others: Sequence[str]) -> str:
    """A text with some spoilt places; JSON is spoilt as a document three times out of four."""
    if text[:1] in "{[" and rng.random() < 0.75:
        try:
            return json.dumps(spoilt_tree(rng, json.loads(text)), ensure_ascii=rng.random() < 0.5)
        except (ValueError, RecursionError):
            pass
    for _ in range(rng.choice((1, 1, 1, 2, 3, 6))):
        text = rng.choice(_WAYS)(rng, text, others)
    return text[:200_000]


def spoilt_tree(rng: random.Random, tree: Any) -> Any:
    """A decoded document with some of its values put in another's place, renamed or left out."""
    tree = copy.deepcopy(tree)
    for _ in range(rng.choice((1, 1, 1, 2, 4))):
        places = list(_places(tree))
        if not places:
            return rng.choice(_VALUES)
        holder, key = rng.choice(places)
        match rng.randrange(8):
            case 0 | 1:
                holder[key] = copy.deepcopy(rng.choice(_VALUES))
            case 2:
                del holder[key]
            case 3:
                other, there = rng.choice(places)
                holder[key] = copy.deepcopy(_at(other, there))
            case 4:
                if isinstance(holder, list):
                    holder.insert(rng.randrange(len(holder) + 1), copy.deepcopy(holder[key]))
                else:
                    holder[rng.choice((*_NASTY, str(key) + "x"))] = holder.pop(key)
            case 5:
                holder[key] = _near(rng, holder[key])
            case 6:
                if isinstance(holder, list):
                    rng.shuffle(holder)
                else:
                    holder[key] = [holder[key]]
            case _:
                word = rng.choice(list(_words(tree)) or [""])
                holder[key] = word
    return tree


def _places(tree: Any) -> Any:
    stack = [tree]
    while stack:
        node = stack.pop()
        if isinstance(node, dict):
            for key, value in node.items():
                yield node, key
                stack.append(value)
        elif isinstance(node, list):
            for number, value in enumerate(node):
                yield node, number
                stack.append(value)


def _at(holder: Any, key: Any) -> Any:
    """What is there still: an earlier change may have taken it away."""
    try:
        return holder[key]
    except (KeyError, IndexError):
        return None


def _words(tree: Any) -> Any:
    return (holder[key] for holder, key in _places(tree) if isinstance(holder[key], str))


def _near(rng: random.Random, value: Any) -> Any:
    """Another value of the same sort."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, (int, float)):
        whole = int(value) if math.isfinite(value) else 0
        return rng.choice((-value, value * 2, value + 1, value / 3, 0, value * 1e9, whole))
    if isinstance(value, str):
        return rng.choice((value + "x", value[:-1], value.upper(), f" {value}", value + "\n", ""))
    return value


def _span(rng: random.Random, text: str) -> tuple[int, int]:
    begin = rng.randrange(len(text) + 1)
    return begin, min(len(text), begin + rng.choice((0, 1, 2, 5, 20, 100)))


def _replace(rng: random.Random, text: str, others: Sequence[str]) -> str:
    begin, end = _span(rng, text)
    return text[:begin] + rng.choice(_NASTY) + text[end:]


def _word(rng: random.Random, text: str, others: Sequence[str]) -> str:
    """One whole word for something nasty, or for another word of the text."""
    words = _WORD.findall(text)
    if not words:
        return rng.choice(_NASTY)
    at = rng.randrange(len(words))
    words[at] = rng.choice(_NASTY) if rng.random() < 0.5 else rng.choice(words)
    return "".join(words)


def _delete(rng: random.Random, text: str, others: Sequence[str]) -> str:
    begin, end = _span(rng, text)
    return text[:begin] + text[end:]


def _cut(rng: random.Random, text: str, others: Sequence[str]) -> str:
    return text[: rng.randrange(len(text) + 1)]


def _repeat(rng: random.Random, text: str, others: Sequence[str]) -> str:
    begin, end = _span(rng, text)
    return text[:begin] + text[begin:end] * rng.choice((2, 3, 50)) + text[end:]


def _lines(rng: random.Random, text: str, others: Sequence[str]) -> str:
    """A line left out, doubled, moved or indented otherwise."""
    lines = text.splitlines(keepends=True)
    if not lines:
        return text
    at = rng.randrange(len(lines))
    line = lines.pop(at)
    match rng.randrange(5):
        case 0:
            pass
        case 1:
            lines[at:at] = [line, line]
        case 2:
            lines.insert(rng.randrange(len(lines) + 1), line)
        case 3:
            lines.insert(at, " " * rng.choice((1, 2, 4)) + line)
        case _:
            lines.insert(at, line[rng.choice((1, 2, 4)) :])
    return "".join(lines)


def _splice(rng: random.Random, text: str, others: Sequence[str]) -> str:
    other = rng.choice(others)
    begin, end = _span(rng, other)
    at = rng.randrange(len(text) + 1)
    return text[:at] + other[begin : end + rng.choice((0, 200))] + text[at:]


def _value(rng: random.Random, text: str, others: Sequence[str]) -> str:
    """What stands after a colon or an equals sign."""
    ends = list(re.finditer(r"[:=] *([^,}\]\n]+)", text))
    if not ends:
        return _replace(rng, text, others)
    match = rng.choice(ends)
    return text[: match.start(1)] + rng.choice(_NASTY) + text[match.end(1) :]


def _letter(rng: random.Random, text: str, others: Sequence[str]) -> str:
    """A slip of the finger: two letters the other way round, or one of another case."""
    if len(text) < 2:
        return text
    at = rng.randrange(len(text) - 1)
    if rng.random() < 0.5:
        return text[:at] + text[at + 1] + text[at] + text[at + 2 :]
    return text[:at] + text[at].swapcase() + text[at + 1 :]


_WAYS = (_replace, _word, _word, _delete, _cut, _repeat, _lines, _splice, _value, _value, _letter)
