"""What a shop has, as it was told: the usual bench, more or less than that, and its bench file.

Codes: KB705 `--with` names nothing that a bench can have; KB706 no such stage to be traced; KB125
names of the bench file, from `kb.language.benchfile`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from engine.model.records import Mains
from kb.language import benchfile
from kb.language.benchfile import BenchFile
from kb.language.knowledge import Knowledge
from kb.language.nearest import alike
from kb.trouble import Place, Trouble, TroubleError

if TYPE_CHECKING:
    from engine.deduce.composition import Bench


@dataclass(frozen=True, slots=True)
class Shop:
    """What was told for this once (`having`, `without`, `traced`), and the bench file if any."""

    having: frozenset[str] = frozenset()
    without: frozenset[str] = frozenset()
    traced: frozenset[str] = frozenset()
    file: BenchFile | None = None

    def key(self, topology: str) -> tuple[object, ...]:
        """All of it that can move a unit's model, plain, for the name of what is kept of it."""
        choices = (sorted(self.having), sorted(self.without), sorted(self.traced))
        if self.file is None:
            return choices
        says = self.file.says
        return (
            *choices, sorted(says.has), sorted(says.lacks), says.minutes.model_dump(),
            sorted(self.file.spares_of(topology)), sorted(self.file.traced_of(topology)),
        )  # fmt: skip

    def bench(
        self, knowledge: Knowledge, topology: str, mains: Mains, complaint: str | None = None
    ) -> Bench:
        """The bench that the facts of a unit want; TroubleError for names nobody knows."""
        from engine.deduce.composition import Bench  # late: a kept model needs no rules

        if troubles := tuple(self._troubles(knowledge, topology)):
            raise TroubleError(troubles)
        file = self.file
        return Bench(
            mains.volts, mains.hertz, complaint,
            benchfile.lacking(knowledge, self.having, self.without, file),
            spares=file.spares_of(topology) if file is not None else frozenset(),
            traced=self.traced | (file.traced_of(topology) if file is not None else frozenset()),
        )  # fmt: skip

    def _troubles(self, knowledge: Knowledge, topology: str) -> Iterator[Trouble]:
        if self.file is not None:
            yield from benchfile.troubles(self.file, knowledge)
        things = benchfile.lackable(knowledge)
        for name in sorted(self.having.difference(things)):
            yield _unknown("KB705", f"'{name}' is no supply or instrument of a bench", name, things)
        stages = tuple(knowledge.topologies[topology].stages)
        for name in sorted(self.traced.difference(stages)):
            yield _unknown("KB706", f"{topology} has no stage '{name}' to be traced", name, stages)


_HERE = Place("command line")


def _unknown(code: str, what: str, name: str, names: tuple[str, ...]) -> Trouble:
    near = alike(name, names, 1)
    hint = near[0] if near else f"one of: {', '.join(names)}"
    return Trouble(code, _HERE, what, f"Write {hint}")


USUAL = Shop()


def everything(knowledge: Knowledge) -> frozenset[str]:
    """All that a bench can have: what circuits are simulated with."""
    return frozenset(benchfile.lackable(knowledge))
