"""Wishes about a bench, as its owner tells them, and the bench that they make.

Code: KB127 a figure that is none.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from kb.language import benchfile
from kb.language.benchfile import ShopBench
from kb.language.knowledge import Knowledge
from kb.trouble import Place, Trouble, TroubleError

_HERE = Path("command line")


@dataclass(frozen=True, slots=True)
class Wishes:
    """Each as it was written on the command line, or answered."""

    has: tuple[str, ...] = ()
    lacks: tuple[str, ...] = ()
    pace: float | None = None
    minutes: tuple[str, ...] = ()
    spares: tuple[str, ...] = ()
    traced: tuple[str, ...] = ()
    worth_minute: float | None = None
    worth: tuple[str, ...] = ()
    currency: str | None = None
    forget: tuple[str, ...] = ()


def grant(says: ShopBench, wishes: Wishes, knowledge: Knowledge) -> ShopBench:
    """The bench with the wishes on top; TroubleError KB124-KB126 or KB127, and nothing changes."""
    plain: dict[str, Any] = _without(says.model_dump(exclude_defaults=True), wishes.forget)
    for key, names, other in (("has", wishes.has, "lacks"), ("lacks", wishes.lacks, "has")):
        plain[key] = _union(plain.get(key, ()), names)
        plain[other] = tuple(name for name in plain.get(other, ()) if name not in names)
    plain["spares"] = _union(plain.get("spares", ()), wishes.spares)
    for wish in wishes.traced:
        unit, _, stage = wish.partition("/")
        stages = plain.setdefault("traced", {})
        stages[unit] = _union(stages.get(unit, ()), (stage,))
    minutes = plain.setdefault("minutes", {})
    if wishes.pace is not None:
        minutes["factor"] = wishes.pace
    for name, figure in _figures(wishes.minutes):
        minutes.setdefault(_section(name, knowledge), {})[name] = figure
    worth = plain.setdefault("worth", {})
    worth |= {"minute": wishes.worth_minute} if wishes.worth_minute is not None else {}
    worth |= {"currency": wishes.currency} if wishes.currency is not None else {}
    for name, figure in _figures(wishes.worth):
        worth.setdefault("units", {})[name] = figure
    bench = benchfile.load_plain(plain, _HERE)
    if troubles := tuple(benchfile.troubles(bench, knowledge)):
        raise TroubleError(troubles)
    return bench.says


def _union(before: Iterable[str], names: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys((*before, *names)))


def _without(plain: Any, names: tuple[str, ...]) -> Any:
    """All of it but what bears one of these names, however deep."""
    if isinstance(plain, dict):
        return {key: _without(inner, names) for key, inner in plain.items() if key not in names}
    if isinstance(plain, (list, tuple)):
        return tuple(inner for inner in plain if inner not in names)
    return plain


def _section(name: str, knowledge: Knowledge) -> str:
    """Whether minutes are those of an action, an opening or a remedy."""
    if name in knowledge.actions:
        return "actions"
    bare = name.rpartition("/")[2]
    openings = {opening for unit in knowledge.topologies.values() for opening in unit.openings}
    if bare in openings:
        return "openings"
    return "remedies" if benchfile.is_remedy(name, knowledge) else "actions"


def _figures(texts: Iterable[str]) -> Iterable[tuple[str, float]]:
    for text in texts:
        name, equals, figure = text.partition("=")
        try:
            yield name.strip(), float(figure)
        except ValueError:
            equals = ""
        if not equals:
            raise TroubleError(
                Trouble(
                    "KB127", Place("command line"), f"'{text}' is no name with its number",
                    "Write it as ohms=1.5 or buck-lamp=12",
                )
            )  # fmt: skip
