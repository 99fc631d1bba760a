"""What a set-up tells the hands, in the order in which they do it.

To the dead bench: switch off and unplug, open, measure what came into reach, and only then touch
rigs. To a live one: rigs first, the supply last.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass

from render.drawing.bench_marks import Bench
from render.wording import leads
from render.wording.course import Stand
from render.wording.phrasing import Phrasing, Wording, capital, said
from render.wording.script import Document
from render.wording.unrigging import removal

MEASURE_FIRST = "MEASURE FIRST"
_SWITCHING_OFF = {
    Wording.FULL: ("switch off, unplug", "switch the source off"),
    Wording.TIGHT: ("unplug", "source off"),
}
_SEVERAL = "take off what is fitted, and solder back what is lifted; leads and repairs stay"


@dataclass(frozen=True, slots=True)
class Doings:
    """What is done before stores are measured, and what after; each empty or sentences."""

    before: str
    after: str


def doings(
    model: Document,
    node: Document,
    stands: Collection[Stand],
    bench: Bench,
    phrasing: Phrasing,
    where: str,
) -> Doings:
    """The words of a set-up node that one comes to with the bench standing in those ways."""
    openings = {opening["id"]: opening for opening in model["openings"]}
    made = (openings.get(name, {"id": name}) for name in node["open"])
    opened = [access.says for access in leads.accesses(made)]
    rigs = [*_rigs(model, node["rig"], {rig for _, _, rig in stands})]
    changes = any(supply != node["supply"] for _, supply, _ in stands)
    supply = phrasing.supply(bench.arrangements[node["supply"]])
    first = [phrasing.plain(words, where) for words in opened]
    then = [phrasing.plain(words, where) for words in rigs]
    if bench.energised(node["supply"]):
        then += [supply] if changes else []
    elif changes:
        first.insert(0, switching_off(bench, stands, phrasing.wording))
    if not (first or then or node.get("make_safe")):
        then.append(supply)
    return Doings(_sentences(first), _sentences(then))


def switching_off(bench: Bench, stands: Iterable[Stand], wording: Wording) -> str:
    """How what feeds the bench is switched off; empty where nothing does."""
    energies = {str(bench.arrangements[supply]["energy"]) for _, supply, _ in stands}
    unplug, source_off = _SWITCHING_OFF[wording]
    if "mains" in energies:
        return unplug
    return source_off if energies - {"none"} else ""


def _sentences(words: Iterable[str]) -> str:
    return ". ".join(capital(doing) for doing in words if doing)


def _rigs(model: Document, rig: str, worn: Collection[str]) -> Iterator[str]:
    """What comes off of the rigs worn before, then what is fitted."""
    rigs, bare = {one["id"]: one for one in model["rigs"]}, model["start"]["rig"]
    gone = sorted(set(worn) - {rig, bare})
    if len(gone) > 1:  # come to from several places, each with its own
        yield _SEVERAL
    elif gone:
        yield removal(rigs[gone[0]], rigs.get(rig))
    if rig != bare and set(worn) - {rig}:
        yield said(rigs[rig], rig)
