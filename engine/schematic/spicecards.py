"""Reads the cards of a SPICE netlist: title, comments, continuations, parameters, elements.

Cards after the user's manual of SPICE3 (University of California, Berkeley): the first line is the
title, `*` and `;` begin comments, `+` continues a card, the first letter of a name tells the
element and with it how many nets follow. Read here and not by a library, since the kept ones are
under licences that this project can't take along. Values are put into plain numbers with the
suffixes of SPICE, in which m is milli and meg is mega.

Codes: NL102 no netlist; NL103 a card that can't be read; NL104 no component.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Mapping

from engine.schematic.sheet import Component, Sheet
from kb.trouble import Place, Trouble, TroubleError

# How many nets follow the name; X takes all words but the last, Q, D, J, M and Z end in a model.
_NETS = {
    "R": 2, "C": 2, "L": 2, "V": 2, "I": 2, "B": 2, "D": 2, "E": 4, "F": 2, "G": 4, "H": 2, "J": 3,
    "M": 4, "Q": 3, "S": 4, "T": 4, "W": 2, "Z": 3,
}  # fmt: skip
_MODELLED = frozenset("DJMQSWZ")
_VALUED = frozenset("RCLVIBEFGHT")
# Suffixes of SPICE netlists.
_SUFFIX = {"t": 1e12, "g": 1e9, "meg": 1e6, "k": 1e3, "m": 1e-3, "u": 1e-6, "µ": 1e-6,
           "n": 1e-9, "p": 1e-12, "f": 1e-15}  # fmt: skip
_NUMBER = re.compile(
    r"([+-]?(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d+)?)(t|g|meg|k|m|u|µ|n|p|f)?[a-zω]*$", re.I
)
_PARAMETER = re.compile(r"(\w+)\s*=\s*(\{[^}]*\}|\S+)")
_A_CARD = re.compile(r"[A-Za-z]\w*\d\w*(?:\s+\S+){3,}$")


def read(text: str, source: str) -> Sheet:
    """The netlist's components; subcircuits that it defines are not looked into.

    A file that holds nothing but one subcircuit is read as that subcircuit. Linear in the text.
    """
    title, cards = _cards(text)
    outer, inner = _split(cards)
    level = outer if any(_element(card) for _, card in outer) else inner
    parameters = dict(_parameters(card for _, card in cards))
    components = tuple(
        _component(line, card, parameters, source) for line, card in level if _element(card)
    )
    if not components:
        raise _trouble(
            "NL104", Place(source), "This netlist holds no component",
            "Give a netlist whose lines name parts, such as R1 in out 10k",
        )  # fmt: skip
    return Sheet(source, title, components, text)


def number(text: str) -> float | None:
    """A value of SPICE as a plain number: `4.7u` is 4.7e-6, `1Meg` 1e6; None if it is none."""
    match = _NUMBER.fullmatch(text.strip())
    if match is None:
        return None
    value = float(match[1]) * _SUFFIX.get((match[2] or "").lower(), 1.0)
    return value if math.isfinite(value) else None


def _cards(text: str) -> tuple[str, list[tuple[int, str]]]:
    lines = text.splitlines()
    title = lines[0].lstrip("*").strip() if lines else ""
    cards: list[tuple[int, str]] = []
    # the first line is the title, unless it can't but be a card that someone put there
    begin = 0 if lines and (_A_CARD.match(lines[0]) or lines[0].startswith(".")) else 1
    for count, line in enumerate(lines[begin:], begin + 1):
        plain = re.split(r"\s*;|\s\$\s", line, maxsplit=1)[0].rstrip()
        if plain.lower().startswith(".title"):
            title = plain[6:].strip()
        elif plain.startswith("+") and cards:
            cards[-1] = (cards[-1][0], f"{cards[-1][1]} {plain[1:].strip()}")
        elif plain and not plain.lstrip().startswith("*"):
            cards.append((count, plain.strip()))
    return title, cards


def _split(
    cards: list[tuple[int, str]],
) -> tuple[list[tuple[int, str]], list[tuple[int, str]]]:
    """Cards outside of subcircuits, and those of the first subcircuit."""
    outer: list[tuple[int, str]] = []
    bodies: list[list[tuple[int, str]]] = []
    depth = 0
    for line, card in cards:
        word = card.split()[0].lower()
        if word == ".subckt":
            depth += 1
            bodies.append([])
        elif word == ".ends":
            depth = max(0, depth - 1)
        elif word == ".end":
            break
        else:
            (bodies[-1] if depth else outer).append((line, card))
    return outer, bodies[0] if bodies else []


def _element(card: str) -> bool:
    return card[0].isalpha()


def _parameters(cards: Iterable[str]) -> Iterator[tuple[str, str]]:
    for card in cards:
        if card.lower().startswith(".param"):
            yield from ((name.lower(), value) for name, value in _PARAMETER.findall(card))


def _component(line: int, card: str, parameters: Mapping[str, str], source: str) -> Component:
    settings = {name.lower(): value for name, value in _PARAMETER.findall(card)}
    words = _PARAMETER.sub("", card).split()
    name, letter = (words[0], words[0][0].upper()) if words else ("", "")
    if letter == "B" and not {"v", "i"} & set(settings):
        letter = "X"  # a source without its formula is none: it is a bridge that lacks its X
    nets = len(words) - 2 if letter == "X" else _NETS.get(letter, 0)
    if letter == "K":
        return Component(name, (), " ".join(words[1:]), line=line)
    if nets < 2 or len(words) < nets + 1:
        raise _trouble(
            "NL103", Place(source, line), f"'{card}' is no card of a SPICE netlist",
            "Write name, nets and value, such as R1 in out 10k, or begin a comment with *",
        )  # fmt: skip
    rest = words[nets + 1 :]
    value = _value(letter, rest, settings, parameters)
    model = rest[0] if rest and (letter in _MODELLED or letter == "X") else ""
    return Component(_designator(name), tuple(words[1 : nets + 1]), value, model, line)


def _designator(name: str) -> str:
    """`XR7`, a part that is modelled by a subcircuit, is R7."""
    inner = re.fullmatch(r"[Xx]([A-Za-z]+_?\d\w*)", name)
    return inner[1] if inner else name


def _value(
    letter: str, rest: list[str], settings: Mapping[str, str], parameters: Mapping[str, str]
) -> str:
    text = rest[0] if rest and letter in _VALUED else ""
    for key in (letter.lower(), "r", "c", "l"):
        text = text or settings.get(key, "")
    for _ in range(4):  # a parameter may name another
        inner = text.strip("{}'\" ").lower()
        if inner not in parameters:
            break
        text = parameters[inner]
    return text.strip("{}'\" ")


def _trouble(code: str, place: Place, what: str, mend: str) -> TroubleError:
    return TroubleError(Trouble(code, place, what, mend))
