"""A SPICE netlist's lines: joined, sorted into subcircuits and elements, their words read.

Letters don't count: all is small from here on.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from engine.solver.expressions import ReadingError, value

_WORD = re.compile(r"(?:\{[^}]*\}|[^\s,(){}=]|=\s*)+")
_SHAPE = re.compile(r"(sin|pulse|pwl)\s*\((.*)\)\s*$")
_MODEL = re.compile(r"\.model\s+(\S+)\s+([a-z]+)\s*\(?(.*?)\)?\s*$")
SHAPES = {"dc": 0, "sin": 1, "pulse": 2, "pwl": 3}
"""Sources' courses over time, numbered as in the kernel's `source.h`."""


@dataclass(frozen=True, slots=True)
class Subcircuit:
    """A subcircuit as text: ports, default parameters, its lines (models among them)."""

    ports: tuple[str, ...]
    defaults: Mapping[str, str]
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Deck:
    """Subcircuits by name and the lines outside them."""

    subcircuits: Mapping[str, Subcircuit]
    lines: tuple[str, ...]


def deck(text: str) -> Deck:
    """The deck of a text without title and end; comments dropped, continuations joined."""
    subcircuits: dict[str, Subcircuit] = {}
    outside: list[str] = []
    inside: list[str] | None = None
    for line in _joined(text.lower()):
        first = line.split(None, 1)[0]
        if first == ".subckt":
            head, inside = words(line), []
        elif first == ".ends":
            if inside is None or len(head) < 2:
                raise ReadingError(".ends without .subckt, or .subckt without a name")
            ports = tuple(word for word in head[2:] if "=" not in word)
            subcircuits[head[1]] = Subcircuit(ports, assignments(head[2:]), tuple(inside))
            inside = None
        else:
            (outside if inside is None else inside).append(line)
    return Deck(subcircuits, tuple(outside))


def _joined(text: str) -> list[str]:
    lines: list[str] = []
    for line in text.splitlines():
        if line.startswith("+") and lines:
            lines[-1] += " " + line[1:]
        elif line.strip() and not line.startswith("*"):
            lines.append(line)
    return lines


@functools.lru_cache(maxsize=4096)
def words(line: str) -> tuple[str, ...]:
    """A line's words; what stands in braces, and an assignment, is one word.

    Kept, since circuits that differ in one part share all other lines.
    """
    whole = _WORD.findall(re.sub(r"\s*=", "=", line))
    return tuple(re.sub(r"\s*=\s*", "=", word) for word in whole)


def assignments(texts: Iterable[str]) -> dict[str, str]:
    """The words that assign: name -> text."""
    pairs = (text.partition("=") for text in texts if "=" in text)
    return {name: value_text for name, _, value_text in pairs}


def models(lines: Iterable[str]) -> dict[str, tuple[str, Mapping[str, str]]]:
    """Models by name: their kind (`d` for diodes) and figures as texts."""
    texts: dict[str, tuple[str, Mapping[str, str]]] = {}
    for line in lines:
        match = _MODEL.match(line)
        if match is None:
            raise ReadingError(f"no reading of {line}")
        texts[match[1]] = (match[2], assignments(words(match[3])))
    return texts


def course(text: str, known: Mapping[str, float]) -> tuple[float, ...]:
    """A source's course over time as numbers: the shape, how many figures follow, those.

    `text` is what follows the nodes: `5`, `DC 5 AC 0`, `SIN(...)`, `PULSE(...)`, `PWL(...)`.
    """
    match = _SHAPE.search(text)
    if match is not None:
        figures = [value(word, known) for word in words(match[2])]
        return (SHAPES[match[1]], len(figures), *figures)
    plain = list(words(text))
    if "ac" in plain:
        plain = plain[: plain.index("ac")]
    plain = [word for word in plain if word != "dc"] or ["0"]
    if len(plain) > 1:
        raise ReadingError(f"no reading of the source {text}")
    return (SHAPES["dc"], 1, value(plain[0], known))
