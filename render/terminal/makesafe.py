"""Confirming a setup step: each store of charge in reach is measured before it counts as done."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from engine.model.records import Store
from kb.quantities import VOLT, read_quantity
from render.terminal import replies
from render.terminal.replies import Command, Picked, Unclear
from render.terminal.screen import Screen
from render.wording.fixedwords import COUNTS_AS_CHARGED, STILL_CHARGED

Volts = dict[str, float | None]

# In full: one key must not pass for a measurement.
_OUT_OF_REACH = "out of reach"


def confirm(
    screen: Screen, lines: Callable[[str], str], stores: Sequence[Store]
) -> Command | Volts:
    """Ask until the step is done and each store is below its limit or out of reach: the volts at
    each, None out of reach. A command breaks it off."""
    while True:
        reply = replies.to_confirm(lines(screen.prompt("done, can't, or help")))
        match reply:
            case Command():
                return reply
            case Unclear():
                screen.say(reply.says)
            case Picked():
                break
    return measure(screen, lines, stores)


def measure(
    screen: Screen, lines: Callable[[str], str], stores: Sequence[Store]
) -> Command | Volts:
    """Ask for the volts at each store until below its limit; None where it is out of reach."""
    volts: Volts = {}
    for store in stores:
        found = _measured(screen, lines, store)
        if isinstance(found, Command):
            return found
        volts[store.part] = found
    return volts


def _measured(screen: Screen, lines: Callable[[str], str], store: Store) -> Command | float | None:
    """The volts at one store once they are below its limit; None where it is out of reach."""
    part = "" if store.part in store.point else f" ({store.part})"
    asked = f"volts at {store.point}{part}, to be below {store.below:g} V; or out of reach"
    while True:
        typed = lines(screen.prompt(asked))
        command = replies.to_confirm(typed, done_words=())
        if isinstance(command, Command):
            return command
        if " ".join(typed.casefold().split()).rstrip(".") == _OUT_OF_REACH:
            screen.say(COUNTS_AS_CHARGED, style="bold")
            return None
        volts = _volts(typed)
        if volts is None:
            screen.say("Type what the meter reads, such as 2.4 V, or out of reach.")
        elif abs(volts) < store.below:
            return volts
        else:
            screen.say(STILL_CHARGED, style="bold")


def _volts(typed: str) -> float | None:
    try:
        quantity = read_quantity(typed.strip(), VOLT)
    except ValueError:
        return None
    return quantity.value if quantity.unit == VOLT else None
