"""What is done once and stays: openings in words, the leads among them together in one line.

Leads are clipped on in one unplugged turn, so the hands are told of them at once, and what holds
for each of them once.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

LEAD, TRACING = "lead", "tracing"
LABELS = {LEAD: "leads", TRACING: "trace"}
_SENTENCE = re.compile(r"(?<=[.!?]) +")


@dataclass(frozen=True, slots=True)
class Access:
    """One thing to do, of a `kind` of opening: what it is, and how; `names` are its openings."""

    kind: str
    says: str
    how: str
    names: tuple[str, ...]

    @property
    def label(self) -> str:
        """What stands before it."""
        return LABELS.get(self.kind, "open")


def accesses(openings: Iterable[Mapping[str, Any]]) -> tuple[Access, ...]:
    """Openings as the hands are told of them, in their order; leads come last, in one line.

    No opening stands behind a lead, so each of them can wait for the boards that it needs.
    """
    items = tuple(openings)
    leads = [one for one in items if one.get("kind") == LEAD]
    doings = [_alone(one) for one in items if one.get("kind") != LEAD]
    if len(leads) == 1:
        doings.append(_alone(leads[0]))
    elif leads:
        doings.append(_together(leads))
    return tuple(doings)


def bench(openings: Iterable[Mapping[str, Any]]) -> str:
    """How the bench stands: what is open, what is on leads, what is drawn."""
    items = tuple(openings)
    by_kind = {
        "open": [_name(o) for o in items if o.get("kind") not in (LEAD, TRACING)],
        "on leads": [_brought_out(o) for o in items if o.get("kind") == LEAD],
        "drawn": [str(o.get("stage") or o["id"]) for o in items if o.get("kind") == TRACING],
    }
    return "; ".join(f"{what}: {', '.join(names)}" for what, names in by_kind.items() if names)


def _alone(one: Mapping[str, Any]) -> Access:
    says = str(one.get("says") or _name(one)).rstrip(". ")
    if one.get("kind") == LEAD and "lead" not in says:
        says += " on clipped leads"
    return Access(str(one.get("kind") or ""), says, str(one.get("how") or ""), (str(one["id"]),))


def _together(leads: list[Mapping[str, Any]]) -> Access:
    named = ", ".join(_brought_out(lead) for lead in leads)
    hows = [_SENTENCE.split(str(lead.get("how") or "").strip()) for lead in leads]
    alike = _shared_end(hows)
    own = [" ".join(how[: len(how) - len(alike)]) for how in hows]
    how = " ".join(words for words in (*own, *alike) if words)
    names = tuple(str(lead["id"]) for lead in leads)
    return Access(LEAD, f"bring out {named} on clipped leads", how, names)


def _shared_end(hows: list[list[str]]) -> list[str]:
    """The sentences in which all of them end."""
    end: list[str] = []
    for sentences in zip(*(reversed(how) for how in hows), strict=False):
        if len(set(sentences)) > 1:
            break
        end.insert(0, sentences[0])
    return end


def _brought_out(lead: Mapping[str, Any]) -> str:
    return str(lead.get("of") or _name(lead))


def _name(one: Mapping[str, Any]) -> str:
    return str(one["id"]).replace("-", " ").replace("_", " ")
