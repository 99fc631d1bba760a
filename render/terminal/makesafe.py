"""Confirming a setup step: each store of charge in reach is measured before it counts as done."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from engine.model.records import Store
from kb.quantities import VOLT, read_quantity
from render.terminal import replies
from render.terminal.replies import Command, Pick, Unclear
from render.terminal.screen import Screen
from render.wording.fixedwords import COUNTS_AS_CHARGED, STILL_CHARGED

Volts = dict[str, float | None]

# In full: one key must not pass for a measurement.
_OUT_OF_REACH = "out of reach"


def confirm(
    screen: Screen, lines: Callable[[str], str], stores: Sequence[Store]
) -> Command | Volts:
    """Ask until the step is done and each store is below its limit or out of reach: the volts at
    each, None out of reach. A command breaks it off.

    Who measures has done it: the volts of the first store stand for done, too."""
    first = f"{volts_at(stores[0])}; out of reach, can't" if stores else ""
    while True:
        text = lines(screen.prompt(first or "done, can't"))
        if stores and (volts_of(text) is not None or _is_out_of_reach(text)):
            return measure(screen, _with_first(text, lines), stores)
        reply = replies.to_confirm(text)
        match reply:
            case Command():
                return reply
            case Unclear():
                screen.say(reply.says)
            case Pick():
                break
    return measure(screen, lines, stores)


def measure(
    screen: Screen, lines: Callable[[str], str], stores: Sequence[Store]
) -> Command | Volts:
    """Ask for the volts at each store until below its limit; None where it is out of reach."""
    volts: Volts = {}
    for store in stores:
        reading = _reading(screen, lines, store, "" if volts else "; out of reach")
        if isinstance(reading, Command):
            return reading
        volts[store.part] = reading
    return volts


def _reading(
    screen: Screen, lines: Callable[[str], str], store: Store, besides: str
) -> Command | float | None:
    """The volts at one store once they are below its limit; None where it is out of reach."""
    while True:
        text = lines(screen.prompt(f"{volts_at(store)}{besides}"))
        command = replies.to_confirm(text, done_words=())
        if isinstance(command, Command):
            return command
        if _is_out_of_reach(text):
            screen.say(COUNTS_AS_CHARGED, style="bold")
            return None
        volts = volts_of(text)
        if volts is None:
            screen.say(NO_VOLTS)
        elif abs(volts) < store.below:
            return volts
        else:
            screen.say(STILL_CHARGED, style="bold")


def _is_out_of_reach(text: str) -> bool:
    return " ".join(text.casefold().split()).rstrip(".") == _OUT_OF_REACH


def _with_first(text: str, lines: Callable[[str], str]) -> Callable[[str], str]:
    """Lines of which the first was typed already."""
    waiting = [text]

    def line(prompt: str) -> str:
        return waiting.pop() if waiting else lines(prompt)

    return line


NO_VOLTS = "Type what the meter reads, such as 2.4 V, or out of reach."


def volts_at(store: Store) -> str:
    """What is asked for at a store of charge."""
    part = "" if store.part in store.point else f" ({store.part})"
    return f"volts at {store.point}{part}, below {store.below:g} V"


def volts_of(text: str) -> float | None:
    """The volts that were typed; None where it is no number of volts."""
    try:
        quantity = read_quantity(text.strip(), VOLT)
    except ValueError:
        return None
    return quantity.value if quantity.unit == VOLT else None
