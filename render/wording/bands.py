"""Reading bands and outcome words as they stand beside a branch."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from typing import Any

from kb.quantities import show


def quantity(value: float, unit: str | None) -> str:
    """`value` in `unit` with a fitting prefix; units the trade's list lacks are kept as given."""
    if not unit:
        return f"{value:g}"
    try:
        return show(value, unit)
    except (KeyError, ValueError):
        return f"{value:g} {unit}"


def limit(store: Mapping[str, Any]) -> str:
    """The limit that a store of charge must be measured below."""
    return quantity(float(store["below"]), store.get("unit", "V"))


def band(outcome: Mapping[str, Any]) -> str:
    """The outcome's half-open band in words, such as `4.6 V to 5.6 V`; empty if not measured."""
    low, high, unit = outcome.get("low"), outcome.get("high"), outcome.get("unit")
    if low is None and high is None:
        return ""
    if low is None and high is not None:
        return f"under {quantity(float(high), unit)}"
    if low is not None and high is None:
        return f"{quantity(float(low), unit)} or more"
    first, second = quantity(float(low or 0.0), unit), quantity(float(high or 0.0), unit)
    number, _, suffix = second.rpartition(" ")
    if number and first.endswith(" " + suffix):
        first = first.removesuffix(" " + suffix)
    return f"{first} to {second}"


ANY_READING = "whatever it reads"
"""Beside a line that all readings take: the check is done for what the verdict asks."""


def tight_branch(outcomes: Sequence[Mapping[str, Any]]) -> str:
    """The words of a branch by bands alone, upwards; those that meet are one, `under 180 V`."""
    parts: list[dict[str, Any]] = []
    for outcome in sorted(outcomes, key=_place):
        last = parts[-1] if parts else None
        meets = last is not None and last.get("high") is not None and (
            last["high"] == outcome.get("low") and last.get("unit") == outcome.get("unit")
        )
        if last is not None and meets:
            last["high"] = outcome.get("high")
            last["all"] = last.get("low") is None and last["high"] is None
        else:
            parts.append(dict(outcome))
    return " or ".join(
        ANY_READING if one.get("all") else band(one) or outcome_words(one) for one in parts
    )


def _place(outcome: Mapping[str, Any]) -> float:
    """Where a band stands among bands; what is told in words keeps its place before them."""
    low = outcome.get("low")
    return -math.inf if low is None else float(low)


def words_and_band(outcome: Mapping[str, Any]) -> tuple[str, str]:
    """What an outcome is called, and its band unless the words say it already."""
    says = str(outcome.get("says") or outcome["id"]).strip().rstrip(".")
    words = band(outcome)
    # Where the words carry figures of their own, two sets of figures would only confuse.
    both = words in says or (bool(re.search(r"\d", says)) and _same_figures(says, words))
    return says, "" if both else words


def outcome_words(outcome: Mapping[str, Any]) -> str:
    """What an outcome is called on the chart: its words, and its band unless they say it."""
    says, words = words_and_band(outcome)
    return f"{says}: {words}" if words else says


COMPARE = "Makers differ here: compare with a good lamp."


def comparison(node: Mapping[str, Any]) -> str:
    """What stands at a chart's test node whose bands are one make's; empty at all others."""
    return COMPARE if node.get("compare") else ""


def branch(outcomes: Sequence[Mapping[str, Any]]) -> str:
    """The words of a branch that several outcomes share."""
    return " or ".join(outcome_words(outcome) for outcome in outcomes)


def _same_figures(says: str, words: str) -> bool:
    figures = r"\d+(?:\.\d+)?"
    return set(re.findall(figures, words)) <= set(re.findall(figures, says))
