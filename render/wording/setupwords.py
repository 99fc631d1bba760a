"""What a set-up tells the hands on paper, in the order in which they do it (`turn`)."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass

from engine.model.plan import State
from render.drawing.bench_marks import Bench
from render.wording.phrasing import Phrasing, Wording, capital, words_of
from render.wording.script import Document
from render.wording.turn import Turn
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
    stands: Collection[State],
    bench: Bench,
    phrasing: Phrasing,
    where: str,
) -> Doings:
    """The words of a set-up node that one comes to with the bench standing in those ways."""
    turn = Turn.of(model, node, stands)
    supply: list[str] = []
    if turn.idle or (turn.supply and not turn.dead):
        supply = [phrasing.supply(bench.arrangements[node["supply"]])]
    elif turn.supply:
        supply = [switching_off(bench, stands, phrasing.wording)]
    before, after = turn.in_order(
        supply=supply,
        opening=[phrasing.plain(access.says, where) for access in turn.accesses],
        rigging=[phrasing.plain(words, where) for words in _rigs(model, turn, node["rig"])],
    )
    return Doings(_sentences(before), _sentences(after))


def switching_off(bench: Bench, stands: Iterable[State], wording: Wording) -> str:
    """How what feeds the bench is switched off; empty where nothing does."""
    energies = {str(bench.arrangements[state.supply]["energy"]) for state in stands}
    unplug, source_off = _SWITCHING_OFF[wording]
    if "mains" in energies:
        return unplug
    return source_off if energies - {"none"} else ""


def _sentences(words: Iterable[str]) -> str:
    return ". ".join(capital(doing) for doing in words if doing)


def _rigs(model: Document, turn: Turn, rig: str) -> Iterator[str]:
    """What comes off of the rigs worn before, then what is fitted."""
    rigs = {one["id"]: one for one in model["rigs"]}
    if len(turn.off) > 1:  # come to from several places, each with its own
        yield _SEVERAL
    elif turn.off:
        yield removal(rigs[turn.off[0]], rigs.get(rig))
    if turn.fit:
        yield words_of(rigs[rig], rig)
