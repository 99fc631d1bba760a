"""From what the command line was told of this very unit to the witness that weighs its readings."""

from __future__ import annotations

import sys
import threading
from collections import OrderedDict
from collections.abc import Collection
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from engine.evidence import Witness
    from engine.model.records import Model


def witness_for(
    model: Model, values: Collection[str] = (), good: Path | None = None, kb: Path | None = None
) -> Witness:
    """The witness for a deduced model, narrowed by markings (`R2=330k`) and a good unit's readings.

    Of units of which nothing more is known all have one and the same: what is made of it is large,
    and a server sits at many. TroubleError for a marking or a file that can't be used: EV101 to
    EV104, and those of answers.
    """
    if not values and good is None:
        return _plain.of(model)
    from engine import library
    from engine.circuit import dictionary
    from engine.evidence import witness
    from engine.evidence.make import NothingKnown, like
    from engine.evidence.witness import SOUND
    from engine.walk.acquaintance import known_of

    readings = dictionary.read(model.topology, model.mains)
    values_of = library.listed_values(model.topology, model.mains, kb) if values else {}
    make = known_of(model, readings, NothingKnown, values, values_of)
    if make.far:
        print(f"nextprobe: note: {', '.join(sorted(make.far))} {UNLIKE}", file=sys.stderr)
    return witness(model, readings, like(make, readings, SOUND, _readings(model, good)))


class _Plain:
    """The witnesses of models with nothing more known, those used last."""

    def __init__(self, most: int = 8) -> None:
        self._most = most
        self._kept: OrderedDict[int, tuple[Model, Witness]] = OrderedDict()
        self._guard = threading.Lock()

    def of(self, model: Model) -> Witness:
        """The one of this very model; the model is kept with it, so that no other has its id."""
        from engine.evidence.witness import load_witness

        with self._guard:
            if id(model) not in self._kept:
                self._kept[id(model)] = (model, load_witness(model))
            self._kept.move_to_end(id(model))
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)
            return self._kept[id(model)][1]


_plain = _Plain()


UNLIKE = (
    "marked as in none of the designs that were simulated: readings count for less, the rules' own "
    "sums for more"
)


def _readings(model: Model, good: Path | None) -> dict[str, float]:
    """Numbers by test, in base units; ranges and words say nothing of what this make reads."""
    if good is None:
        return {}
    from engine.walk.prepared import read_all
    from kb.language.answersfile import read_answers

    answers = read_all(model, read_answers(good), str(good))
    return {
        test: answer.low
        for test, answer in answers.items()
        if answer.low is not None and answer.low == answer.high
    }
