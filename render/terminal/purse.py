"""What a unit, a minute and parts are worth, as told at the bench or in the shop's bench file."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from engine.walk import prospects
from engine.walk.job import Walk
from engine.walk.prospects import Prices
from kb.language import benchfile
from render.wording import worthwords


@dataclass(slots=True)
class Purse:
    """The prices that the sums of a walk go by."""

    prices: Prices = field(default_factory=Prices)

    def lines(self, walk: Walk, rest: str) -> Iterator[tuple[str, str]]:
        """Whether going on is worth it, once `rest` is put in with what was told before."""
        prices = worthwords.read(rest, self.prices)
        if prices is None:
            yield "not so", f"Type {worthwords.HOW_TO_TELL}."
            return
        self.prices = prices
        yield from worthwords.lines(prospects.of_walk(walk, prices), prices)
        if prices.unit is None:
            yield "to tell it", worthwords.HOW_TO_TELL


def of_shop(kb: Path | None, topology: str) -> Purse:
    """The prices of the shop's bench file; none where there is none."""
    file = benchfile.of(kb)
    if file is None:
        return Purse()
    says = file.says.worth
    return Purse(worthwords.usual(says.minute, says.units, topology, says.currency))
