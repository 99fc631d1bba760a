"""What a component probably is, by the knowledge's own list of symbols, and its value in words."""

from __future__ import annotations

from dataclasses import dataclass

from engine.schematic.sheet import Component, Sheet
from engine.schematic.spicecards import number
from kb.language.knowledge import Knowledge
from kb.language.schema import SymbolEntry
from kb.quantities import in_base, read_as, show


@dataclass(frozen=True, slots=True)
class Guess:
    """A component with the kind of part it is taken for (empty if nothing fits) and its marking."""

    component: Component
    kind: str
    value: str = ""
    source: bool = False


def guess(sheet: Sheet, knowledge: Knowledge) -> tuple[Guess, ...]:
    """Every component but those that no unit has."""
    guesses = []
    for component in sheet.components:
        symbol = _symbol(component, knowledge)
        if symbol is not None and symbol.role == "left-out":
            continue
        source = symbol is not None and symbol.role == "source"
        kind = symbol.kind if symbol and symbol.kind in knowledge.parts else ""
        value = _marking(component, knowledge.parts[kind].unit) if kind else ""
        guesses.append(Guess(component, kind, value, source))
    return tuple(guesses)


def _symbol(component: Component, knowledge: Knowledge) -> SymbolEntry | None:
    """The symbol that fits with the most conditions, the first of equals."""
    fits = [(_fit(component, symbol), symbol) for symbol in knowledge.symbols.values()]
    best = max(fits, key=lambda pair: pair[0], default=(0, None))
    return best[1] if best[0] > 0 else None


def _fit(component: Component, symbol: SymbolEntry) -> int:
    """How many conditions of a symbol are met; 0 if one is not. Words weigh most."""
    words = f"{component.value} {component.model}".lower()
    value = plain(component.value)
    conditions = (
        (symbol.letters, component.letters in symbol.letters, 2),
        (symbol.words, any(word in words for word in symbol.words), 4),
        (symbol.legs is not None, len(component.nets) == symbol.legs, 1),
        (symbol.over is not None, value is not None and value > (symbol.over or 0), 1),
        (symbol.under is not None, value is not None and value < (symbol.under or 0), 1),
    )
    if any(is_asked and not is_met for is_asked, is_met, _ in conditions):
        return 0
    return sum(weight for is_asked, _, weight in conditions if is_asked)


def plain(text: str) -> float | None:
    """A marking as a number in base units: SPICE's `4.7u`, a sheet's `4u7`, `100nF`, `10k/1W`."""
    first = text.replace("/", " ").split()
    if not first:
        return None
    spice = number(first[0])
    if spice is not None:
        return spice
    for unit in ("ohm", "F", "H", "V"):
        try:
            return read_as(first[0], unit).value
        except ValueError:
            continue
    return None


def _marking(component: Component, unit: str) -> str:
    """The value as the topology writes it, in the unit of the kind; empty if none can be read."""
    value = plain(component.value)
    if value is None or not unit:
        return ""
    base = in_base(1, unit).unit
    return show(value, base, digits=4)
