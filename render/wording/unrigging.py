"""How a rig comes off, in words: its own where it has any, else turned round from how it goes on.

A rig is worded as what the hands do to fit it, clause by clause ("clip the meter across TP4 and
cover the light sensor"). Repeating that after "take off" would tell the hands to fit it again, so
each clause is turned into its opposite; one of no known kind is to be undone.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

_BRACKET = re.compile(r" \([^()]*\)")
_COVERS = re.compile(r"cover ", re.IGNORECASE)
_ARTICLE = r"(?:the |an? )?"
# What fits a rig, and what undoes it.
_OPPOSITES: tuple[tuple[str, str], ...] = (
    (r"clip (?:the|an?) (\S.*?) (?:across|onto|on to|on|over|to|between) (.+)",
     r"take the \1's clips off \2"),
    (rf"clip on {_ARTICLE}(.+)", r"take the \1 off"),
    (r"cover (.+)", r"uncover \1"),
    (rf"bridge (.+?) with {_ARTICLE}(.+)", r"take the \2 off \1"),
    (r"bridge (.+)", r"take the bridge off \1"),
    (rf"feed (.+) from {_ARTICLE}(.+)", r"take the \2 off \1"),
    (r"short (.+)", r"take the short off \1"),
    (r"lift one leg of (.+)", r"solder the lifted leg of \1 back"),
    (r"take (.+) out", r"put \1 back in"),
    (r"take (.+) off (.+)", r"put \1 back on \2"),
    (r"(?:fit|put on|plug in) (.+)", r"take \1 off"),
    (r"(?:disconnect|unplug|unsolder) (.+)", r"put \1 back"),
)  # fmt: skip


def removal(rig: Mapping[str, Any], then: Mapping[str, Any] | None = None) -> str:
    """What the hands do to take the rig off; what the rig fitted `then` has too may stay on.

    A rig's own words speak of the thing that is fitted; what it covers is uncovered besides. Empty
    where all of it stays.
    """
    says = str(rig.get("says") or "").rstrip(". ")
    staying = set(_clauses(str((then or {}).get("says") or "")))
    coming_off = [clause for clause in _clauses(says) if clause and clause not in staying]
    if says and not coming_off:
        return ""
    if rig.get("off"):
        off = str(rig["off"]).rstrip(". ")
        # The very thing that comes off goes on again: it stays where it is.
        first = [] if then and then.get("off") == rig["off"] else [off]
        covers = [_opposite(clause) for clause in coming_off if _COVERS.match(clause)]
        return " and ".join((*first, *(words for words in covers if words not in off)))
    if not says:
        return "undo: " + str(rig["id"]).replace("-", " ")
    return " and ".join(_opposite(clause) for clause in coming_off)


def _clauses(says: str) -> list[str]:
    """The clauses of a rig's words; an "and" in brackets parts nothing."""
    brackets = _BRACKET.findall(says)
    bare = _BRACKET.sub("\0", says.rstrip(". "))
    clauses = []
    for clause in bare.split(" and "):
        while "\0" in clause:
            clause = clause.replace("\0", brackets.pop(0), 1)
        clauses.append(clause)
    return clauses


def _opposite(clause: str) -> str:
    for fitting, undone in _OPPOSITES:
        match = re.fullmatch(fitting, clause, re.IGNORECASE)
        if match:
            return match.expand(undone)
    return f"undo: {clause}"
