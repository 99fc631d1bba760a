"""Whether it is worth going on, in lines with the arithmetic; terminal and page share them."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from engine.walk.prospects import SURE_OF_STAGE, Prices, Prospect
from render.wording.odds import percent

UNTOLD = (
    "Nobody said what the unit is worth, so nothing is advised. These minutes are what the plan "
    "takes on average."
)
UNKNOWN_UNIT = "What it is must be known first: minutes are those until then or to a verdict."
HOW_TO_TELL = "worth unit=12 minute=0.3 parts=1 U1=2.50: each may be left out"
_MOST_MONEY = 1e6
_WORDS = {"unit": "unit", "minute": "minute", "min": "minute", "parts": "any_part"}


def lines(prospect: Prospect, prices: Prices) -> Iterator[tuple[str, str]]:
    """Labels with their texts, in the order of the job."""
    stage = f"{_min(prospect.to_stage)}: then one stage holds {percent(SURE_OF_STAGE)}"
    yield "to a stage", stage
    yield "to a verdict", _min(prospect.to_part)
    if prospect.is_open:
        yield "worth it?", UNKNOWN_UNIT
        return
    yield "to a proof", (
        f"{_min(prospect.minutes)}: {_whole(prospect.to_part)} to find it, "
        f"{_whole(prospect.mending)} to mend it, {_whole(prospect.proving)} to prove it; "
        f"mended in {percent(prospect.saved)}"
    )
    if prices.parts or prices.any_part is not None:
        yield "parts", f"{_money(prospect.parts, prices)} on average"
    gain = prospect.gain(prices)
    if gain is None:
        yield "worth it?", UNTOLD
        return
    yield "worth it?", f"{'go on' if gain > 0 else 'stop'}: {_sum(prospect, prices, gain)}"
    most = prospect.most_minutes(prices)
    if most is not None:
        yield "when to stop", (
            f"once finding it has taken more than {_min(most)} from here"
            if gain > 0 else "now: what is left to gain is less than it takes"
        )


def read(text: str, before: Prices) -> Prices | None:
    """The prices with what is typed put in, as `unit=12 minute=0.3 parts=1 U1=2.50`; None where a
    word is no such thing."""
    figures: dict[str, float | None] = {"unit": before.unit, "minute": before.minute,
                                        "any_part": before.any_part}  # fmt: skip
    parts = dict(before.parts)
    for word in re.split(r"[\s;]+", text.strip()):
        if not word:
            continue
        name, is_pair, figure = word.partition("=")
        money = amount(figure)
        if not is_pair or not name or money is None:
            return None
        if name.casefold() in _WORDS:
            figures[_WORDS[name.casefold()]] = money
        else:
            parts[name.upper()] = money
    return Prices(
        figures["unit"], figures["minute"], parts, figures["any_part"], before.currency
    )


def amount(text: str) -> float | None:
    """Money as it is typed, a point or a comma before its cents; None for what is none."""
    plain = text.strip().replace(",", ".")
    if not re.fullmatch(r"[0-9]{1,6}(\.[0-9]{1,4})?", plain, re.ASCII):
        return None
    money = float(plain)
    return money if money <= _MOST_MONEY else None


def usual(minute: float | None, units: Mapping[str, float], topology: str, currency: str) -> Prices:
    """The prices that the shop's file of its bench tells."""
    return Prices(units.get(topology), minute, currency=currency)


def _sum(prospect: Prospect, prices: Prices, gain: float) -> str:
    text = f"{percent(prospect.saved)} of {_money(prices.unit or 0.0, prices)}"
    if prospect.parts:
        text += f", less {_money(prospect.parts, prices)} of parts"
    if prices.minute:
        text += f", less {_min(prospect.minutes)} at {_money(prices.minute, prices)}"
    else:
        text += "; a minute has no price here"
    return f"{text}, leaves {_money(gain, prices)}"


def _money(value: float, prices: Prices) -> str:
    return f"{value:.2f} {prices.currency}".rstrip().replace("-", "−")


def _min(value: float) -> str:
    return f"{_whole(value)} min"


def _whole(value: float) -> str:
    return f"{value:.0f}"
