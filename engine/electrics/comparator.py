"""A comparator's promises: the least supply it works from and the inputs it can tell apart."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Window:
    """Input voltages a comparator compares rightly at one supply.

    Both inputs inside `high_volts`, at room temperature or `high_volts_hot` over the whole range;
    `supplied` is false below the least supply, where nothing is promised. With one input inside
    and the other above, data sheets still promise the right output.
    """

    supplied: bool
    low_volts: float
    high_volts: float
    high_volts_hot: float


def window(
    supply_volts: float, least_supply: float, headroom: float, headroom_hot: float
) -> Window:
    """Common-mode window from 0 V to `V+ - headroom`; an upper limit below zero leaves none (0 V).

    Headroom of a 393 or 2903 is 1.5 V at 25 °C and 2.0 V over temperature, least supply 2 V (data
    sheets of that class); the caller brings the figures of the part at hand.
    """
    return Window(
        supplied=supply_volts >= least_supply,
        low_volts=0.0,
        high_volts=max(0.0, supply_volts - headroom),
        high_volts_hot=max(0.0, supply_volts - headroom_hot),
    )
